#include "cli/base/result_folder.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static enum swh_status refuse(struct swh_error *err, const char *where, int reason, const char *expected)
{
    swh_error_set(err, SWH_ERR_OUTPUT, "cannot be written: %s", strerror(reason));
    swh_error_at(err, where, 0, 0);
    swh_error_expected(err, "%s", expected);
    return SWH_ERR_OUTPUT;
}

/* makes `path` and what is missing above it; counts the folders made */
static int make_folders(char *path, int *made)
{
    for (char *p = path + 1;; p++) {
        if (*p != '/' && *p != '\0')
            continue;
        const char kept = *p;
        *p = '\0';
        const int failed = mkdir(path, 0777);
        const int reason = errno;
        *p = kept;
        if (failed && reason != EEXIST)
            return reason;
        *made += !failed;
        if (kept == '\0')
            return 0;
    }
}

enum swh_status swh_out_begin(struct swh_out *out, const char *folder, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    if (strlen(folder) == 0 || strlen(folder) >= sizeof out->folder)
        return refuse(err, folder, ENAMETOOLONG, "a folder's name");
    snprintf(out->folder, sizeof out->folder, "%s", folder);
    for (size_t n = strlen(out->folder); n > 1 && out->folder[n - 1] == '/'; n--)
        out->folder[n - 1] = '\0';
    const int reason = make_folders(out->folder, &out->made);
    struct stat st;
    if (reason == 0 && stat(out->folder, &st) == 0 && S_ISDIR(st.st_mode) && access(out->folder, W_OK) == 0)
        return SWH_OK;
    refuse(err, folder,
           reason                ? reason
           : S_ISDIR(st.st_mode) ? EACCES
                                 : ENOTDIR,
           "a folder that can be written to");
    swh_out_abort(out);
    return SWH_ERR_OUTPUT;
}

FILE *swh_out_file(struct swh_out *out, const char *name, struct swh_error *err)
{
    char beside[sizeof out->item[0].beside];
    snprintf(beside, sizeof beside, "%s/.%s.%ld", out->folder, name, (long)getpid());
    if (out->count == SWH_OUT_FILES) {
        refuse(err, name, EMFILE, "fewer files");
        return NULL;
    }
    const int fd = open(beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    FILE *f = fd >= 0 ? fdopen(fd, "wb") : NULL;
    if (!f) {
        refuse(err, beside, errno, "a folder that can be written to");
        if (fd >= 0)
            close(fd);
        return NULL;
    }
    snprintf(out->item[out->count].name, sizeof out->item[0].name, "%s", name);
    memcpy(out->item[out->count].beside, beside, sizeof beside);
    out->item[out->count++].file = f;
    return f;
}

/* 0, or errno */
static int finish(FILE *f)
{
    errno = 0;
    int reason = ferror(f) ? EIO : 0;
    if (fflush(f) != 0 || (fsync(fileno(f)) != 0 && errno != EINVAL && errno != ENOTSUP))
        reason = errno;
    if (fclose(f) != 0 && reason == 0)
        reason = errno;
    return reason;
}

static void keep_folder(const char *folder)
{
    const int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return;
    (void)fsync(fd); /* not every file system can; the files themselves are safe */
    close(fd);
}

enum swh_status swh_out_commit(struct swh_out *out, struct swh_error *err)
{
    enum swh_status status = SWH_OK;
    char name[640];
    for (int i = 0; i < out->count; i++) {
        const int reason = finish(out->item[i].file);
        out->item[i].file = NULL;
        snprintf(name, sizeof name, "%s/%s", out->folder, out->item[i].name);
        if (reason != 0)
            status = refuse(err, name, reason, "room on the device");
    }
    for (int i = 0; i < out->count && status == SWH_OK; i++) {
        snprintf(name, sizeof name, "%s/%s", out->folder, out->item[i].name);
        if (rename(out->item[i].beside, name) != 0)
            status = refuse(err, name, errno, "a name that is free or a file");
        else
            out->item[i].beside[0] = '\0';
    }
    if (status == SWH_OK) {
        keep_folder(out->folder);
        out->count = 0;
        return SWH_OK;
    }
    swh_out_abort(out);
    return status;
}

void swh_out_abort(struct swh_out *out)
{
    for (int i = 0; i < out->count; i++) {
        if (out->item[i].file)
            fclose(out->item[i].file);
        if (out->item[i].beside[0] != '\0')
            unlink(out->item[i].beside);
    }
    out->count = 0;
    for (; out->made > 0 && rmdir(out->folder) == 0; out->made--) {
        char *slash = strrchr(out->folder, '/');
        if (!slash)
            break;
        *slash = '\0';
    }
    out->made = 0;
}

enum swh_status swh_out_close_stdout(struct swh_error *err)
{
    const int failed_before = ferror(stdout);
    errno = 0;
    if (fclose(stdout) == 0 && !failed_before)
        return SWH_OK;
    return refuse(err, "standard output", errno ? errno : EIO,
                  "room on the device, or a reader that listens");
}
