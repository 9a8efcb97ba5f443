#include "plots/part_file.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

enum { DIGITS = 16, ATTEMPTS = 8 };
static const char ending[] = ".part";

int swh_part_name(const char *folder, const char *name, char *path, size_t n)
{
    uint64_t random = 0;
    if (getrandom(&random, sizeof random, 0) != (ssize_t)sizeof random)
        return errno ? errno : EIO;
    const int length =
        snprintf(path, n, "%s/.%s.%016llx%s", folder, name, (unsigned long long)random, ending);
    return length < 0 || (size_t)length >= n ? ENAMETOOLONG : 0;
}

int swh_part_open(const char *folder, const char *name, char *path, size_t n)
{
    int fd = -1, reason = EEXIST;
    for (int i = 0; i < ATTEMPTS && fd < 0 && reason == EEXIST; i++) {
        reason = swh_part_name(folder, name, path, n);
        if (reason != 0)
            break;
        fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
        reason = fd < 0 ? errno : 0;
    }
    errno = reason;
    return fd;
}

bool swh_part_is(const char *name)
{
    const size_t n = strlen(name), tail = DIGITS + sizeof ending - 1;
    if (name[0] != '.' || n < tail + 3 || strcmp(name + n - (sizeof ending - 1), ending) != 0)
        return false;
    const char *digits = name + n - tail;
    return digits[-1] == '.' && strspn(digits, "0123456789abcdef") == DIGITS;
}

void swh_part_sweep(const char *folder)
{
    DIR *d = opendir(folder);
    if (!d)
        return;
    for (struct dirent *e = readdir(d); e; e = readdir(d)) {
        struct stat st;
        if (swh_part_is(e->d_name) && fstatat(dirfd(d), e->d_name, &st, AT_SYMLINK_NOFOLLOW) == 0 &&
            S_ISREG(st.st_mode))
            (void)unlinkat(dirfd(d), e->d_name, 0);
    }
    closedir(d);
}
