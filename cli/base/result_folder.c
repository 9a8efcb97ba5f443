#include "cli/base/result_folder.h"

#include "cli/base/interrupt.h"
#include "cli/base/json_memory.h"
#include "plots/part_file.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
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

/* ---- one run at a time ---- */

enum { TAKEN_MOST = 80 };

/* Folders that this process has: a lock belongs to the descriptor, which the system closes when we end. */
static struct {
    int count;
    struct {
        dev_t device;
        ino_t number;
    } folder[TAKEN_MOST];
} taken;

static bool have(const struct stat *st)
{
    for (int i = 0; i < taken.count; i++)
        if (taken.folder[i].device == st->st_dev && taken.folder[i].number == st->st_ino)
            return true;
    return false;
}

/* Whoever shares a folder may find it held for the moment in which another one sweeps it before it shares it
 * too. */
static bool join(int fd)
{
    const struct timespec pause = {.tv_nsec = 10 * 1000 * 1000};
    for (int tries = 0; tries < 200; tries++) {
        if (flock(fd, LOCK_SH | LOCK_NB) == 0)
            return true;
        nanosleep(&pause, NULL);
    }
    return false;
}

static bool lock(int fd, enum swh_out_share share, const char *folder)
{
    if (flock(fd, LOCK_EX | LOCK_NB) == 0) {
        swh_part_sweep(folder);
        return share == SWH_OUT_ALONE || flock(fd, LOCK_SH | LOCK_NB) == 0;
    }
    if (errno != EWOULDBLOCK)
        return true; /* a file system without locks */
    return share == SWH_OUT_TOGETHER && join(fd);
}

enum swh_status swh_out_take(const char *folder, enum swh_out_share share, struct swh_error *err)
{
    struct stat st;
    const int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return errno == EACCES ? SWH_OK /* it may be written to but not read */
                               : refuse(err, folder, errno, "a folder that can be written to");
    if (fstat(fd, &st) != 0 || have(&st) || taken.count == TAKEN_MOST) {
        close(fd);
        return SWH_OK;
    }
    if (!lock(fd, share, folder)) {
        close(fd);
        swh_error_set(err, SWH_ERR_OUTPUT, "another process is at work in this folder");
        swh_error_at(err, folder, 0, 0);
        swh_error_expected(err, "its end, or another folder with --out");
        return SWH_ERR_OUTPUT;
    }
    taken.folder[taken.count].device = st.st_dev;
    taken.folder[taken.count++].number = st.st_ino;
    return SWH_OK;
}

/* ---- beginning ---- */

static enum swh_status check_folder(const struct swh_out *out, int reason, struct swh_error *err)
{
    struct stat st = {0};
    if (reason == 0 && stat(out->folder, &st) != 0)
        reason = errno;
    if (reason == 0 && !S_ISDIR(st.st_mode))
        reason = ENOTDIR;
    if (reason == 0 && access(out->folder, W_OK) != 0)
        reason = EACCES;
    return reason ? refuse(err, out->folder, reason, "a folder that can be written to") : SWH_OK;
}

enum swh_status swh_out_begin_shared(struct swh_out *out, const char *folder, enum swh_out_share share,
                                     struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    if (strlen(folder) == 0 || strlen(folder) >= sizeof out->folder)
        return refuse(err, folder, ENAMETOOLONG, "a folder's name");
    snprintf(out->folder, sizeof out->folder, "%s", folder);
    for (size_t n = strlen(out->folder); n > 1 && out->folder[n - 1] == '/'; n--)
        out->folder[n - 1] = '\0';
    enum swh_status status = check_folder(out, make_folders(out->folder, &out->made), err);
    if (status == SWH_OK) {
        status = swh_out_take(out->folder, share, err);
        if (status != SWH_OK)
            out->made = 0; /* another one works in it: it stays */
    }
    if (status != SWH_OK)
        swh_out_abort(out);
    return status;
}

enum swh_status swh_out_begin(struct swh_out *out, const char *folder, struct swh_error *err)
{
    return swh_out_begin_shared(out, folder, SWH_OUT_ALONE, err);
}

FILE *swh_out_file(struct swh_out *out, const char *name, struct swh_error *err)
{
    if (out->count == SWH_OUT_FILES) {
        refuse(err, name, EMFILE, "fewer files");
        return NULL;
    }
    if (strlen(name) >= sizeof out->item[0].name) {
        refuse(err, name, ENAMETOOLONG, "a shorter name");
        return NULL;
    }
    char *beside = out->item[out->count].beside;
    swh_interrupt_watch();
    const int fd = swh_part_open(out->folder, name, beside, sizeof out->item[0].beside);
    FILE *f = fd >= 0 ? fdopen(fd, "wb") : NULL;
    if (!f) {
        refuse(err, beside, errno, "a folder that can be written to");
        if (fd >= 0) {
            close(fd);
            unlink(beside);
        }
        return NULL;
    }
    snprintf(out->item[out->count].name, sizeof out->item[0].name, "%s", name);
    out->item[out->count].old[0] = '\0';
    out->item[out->count].fresh = false;
    out->item[out->count++].file = f;
    return f;
}

/* ---- ending ---- */

/* Why a stream stopped taking text some time ago: the reason is forgotten since, so another write asks for
 * it. */
static int reason_of(FILE *f)
{
    static const char zeros[65536];
    errno = 0;
    return write(fileno(f), zeros, sizeof zeros) < 0 && errno ? errno : EIO;
}

/* 0, or errno */
static int finish(FILE *f)
{
    int reason = ferror(f) ? reason_of(f) : 0;
    errno = 0;
    if (reason == 0 && (fflush(f) != 0 || (fsync(fileno(f)) != 0 && errno != EINVAL && errno != ENOTSUP)))
        reason = errno ? errno : EIO;
    if (fclose(f) != 0 && reason == 0)
        reason = errno ? errno : EIO;
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

static enum swh_status finish_all(struct swh_out *out, struct swh_error *err)
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
    return status;
}

/* Gives one file its name; keeps what had it before under another, where the file system can. */
static enum swh_status give_name(struct swh_out *out, int i, struct swh_error *err)
{
    char name[640];
    char *old = out->item[i].old;
    snprintf(name, sizeof name, "%s/%s", out->folder, out->item[i].name);
    if (swh_part_name(out->folder, out->item[i].name, old, sizeof out->item[i].old) != 0 ||
        link(name, old) != 0) {
        out->item[i].fresh = errno == ENOENT;
        old[0] = '\0';
    }
    if (rename(out->item[i].beside, name) != 0)
        return refuse(err, name, errno, "a name that is free or a file");
    out->item[i].beside[0] = '\0';
    return SWH_OK;
}

/* The commit failed: what has its name already gives way to what had it before. */
static void take_back(struct swh_out *out)
{
    char name[640];
    for (int i = 0; i < out->count; i++) {
        snprintf(name, sizeof name, "%s/%s", out->folder, out->item[i].name);
        if (out->item[i].beside[0] != '\0')
            continue;
        if (out->item[i].fresh)
            unlink(name);
        else if (out->item[i].old[0] != '\0' && rename(out->item[i].old, name) == 0)
            out->item[i].old[0] = '\0';
    }
}

static void forget_old(struct swh_out *out)
{
    for (int i = 0; i < out->count; i++)
        if (out->item[i].old[0] != '\0')
            unlink(out->item[i].old);
}

enum swh_status swh_out_commit(struct swh_out *out, struct swh_error *err)
{
    enum swh_status status = swh_json_whole(err);
    if (status == SWH_OK)
        status = finish_all(out, err);
    for (int i = 0; i < out->count && status == SWH_OK; i++)
        status = give_name(out, i, err);
    if (status != SWH_OK)
        take_back(out);
    forget_old(out);
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

/* whoever read has enough, as `head` has: nothing to be said */
static bool reader_has_gone(void)
{
    struct pollfd end = {.fd = STDOUT_FILENO, .events = POLLOUT};
    return poll(&end, 1, 0) == 1 && end.revents & POLLERR;
}

enum swh_status swh_out_close_stdout(struct swh_error *err)
{
    const int failed_before = ferror(stdout);
    const bool alone = reader_has_gone();
    errno = 0;
    if (fclose(stdout) == 0 && !failed_before)
        return SWH_OK;
    if (alone || errno == EPIPE)
        return SWH_ERR_OUTPUT;
    return refuse(err, "standard output", errno ? errno : EIO,
                  "room on the device, or a reader that listens");
}
