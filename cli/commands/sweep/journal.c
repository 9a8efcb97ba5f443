#include "cli/commands/sweep/journal.h"

#include "model/base/hash.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { LINE = 1024, NAME = 128, NUMBERS = 4 + SWH_SWEEP_EXTREME_COUNT };

static enum swh_status refuse(struct swh_error *err, const char *path, int reason)
{
    swh_error_set(err, SWH_ERR_OUTPUT, "the journal of finished cases cannot be kept: %s", strerror(reason));
    swh_error_at(err, path, 0, 0);
    swh_error_expected(err, "room and leave to write; the same command then goes on where it stopped");
    return SWH_ERR_OUTPUT;
}

/* ---- names ---- */

static void prefix_of(const struct swh_sweep *s, char *out, size_t size)
{
    snprintf(out, size, "cases-%016" PRIx64, swh_sweep_fingerprint(s));
}

static void name_of(const struct swh_sweep *s, char *out, size_t size)
{
    char prefix[48];
    prefix_of(s, prefix, sizeof prefix);
    if (s->shards > 1)
        snprintf(out, size, "%s-%ldof%ld.journal", prefix, s->shard + 1, s->shards);
    else
        snprintf(out, size, "%s.journal", prefix);
}

/* calls `each` for every journal of the sweep in the folder until it returns other than SWH_OK */
static enum swh_status each_journal(const char *folder, const struct swh_sweep *s,
                                    enum swh_status (*each)(const char *path, void *user,
                                                            struct swh_error *err),
                                    void *user, struct swh_error *err)
{
    char prefix[48];
    prefix_of(s, prefix, sizeof prefix);
    DIR *dir = opendir(folder);
    if (!dir)
        return errno == ENOENT ? SWH_OK : refuse(err, folder, errno);
    enum swh_status status = SWH_OK;
    for (struct dirent *d = readdir(dir); d && status == SWH_OK; d = readdir(dir)) {
        const size_t n = strlen(d->d_name);
        if (strncmp(d->d_name, prefix, strlen(prefix)) != 0 || n < 8 ||
            strcmp(d->d_name + n - 8, ".journal") != 0)
            continue;
        char path[768];
        snprintf(path, sizeof path, "%s/%.200s", folder, d->d_name);
        status = each(path, user, err);
    }
    closedir(dir);
    return status;
}

/* ---- lines: index, result, cause, numbers as hexadecimal fractions, checksum ---- */

static void numbers_of(struct swh_sweep_row *row, double *number[NUMBERS])
{
    number[0] = &row->time_to_seizure;
    number[1] = &row->end_time;
    number[2] = &row->duty;
    number[3] = &row->suction_cooling_share;
    for (int i = 0; i < SWH_SWEEP_EXTREME_COUNT; i++)
        number[4 + i] = &row->extreme[i];
}

static size_t write_line(char out[LINE], long index, const struct swh_sweep_row *row, int axes)
{
    struct swh_sweep_row copy = *row;
    double *number[NUMBERS];
    numbers_of(&copy, number);
    size_t n = (size_t)snprintf(out, LINE, "%ld %d %d", index, (int)row->result, (int)row->cause);
    for (int i = 0; i < axes; i++)
        n += (size_t)snprintf(out + n, LINE - n, " %a", row->input[i]);
    for (int i = 0; i < NUMBERS; i++)
        n += (size_t)snprintf(out + n, LINE - n, " %a", *number[i]);
    n += (size_t)snprintf(out + n, LINE - n, " #%016" PRIx64 "\n", swh_hash(SWH_HASH_START, out, n));
    return n;
}

static bool line_is_whole(const char *line)
{
    const char *mark = strrchr(line, '#');
    const size_t n = strlen(line);
    if (!mark || mark == line || line[n - 1] != '\n')
        return false;
    return strtoull(mark + 1, NULL, 16) == swh_hash(SWH_HASH_START, line, (size_t)(mark - line - 1));
}

static bool read_line(const char *line, int axes, long count, long *index, struct swh_sweep_row *row)
{
    if (!line_is_whole(line))
        return false;
    char *at = NULL;
    *index = strtol(line, &at, 10);
    const long result = strtol(at, &at, 10);
    const long cause = strtol(at, &at, 10);
    if (*index < 0 || *index >= count || result < 0 || result >= SWH_CASE_RESULT_COUNT || cause < 0 ||
        cause > SWH_SEIZURE_COUNT)
        return false;
    memset(row, 0, sizeof *row);
    double *number[NUMBERS];
    numbers_of(row, number);
    for (int i = 0; i < axes; i++)
        row->input[i] = strtod(at, &at);
    for (int i = 0; i < NUMBERS; i++)
        *number[i] = strtod(at, &at);
    row->result = (enum swh_case_result)result;
    row->cause = (enum swh_seizure)cause;
    row->done = true;
    return true;
}

/* ---- reading ---- */

struct restoring {
    const struct swh_sweep *sweep;
    const char *only; /* file name; NULL: all */
    struct swh_sweep_row *rows;
    long restored;
};

static enum swh_status restore_one(const char *path, void *user, struct swh_error *err)
{
    struct restoring *r = user;
    if (r->only && strcmp(strrchr(path, '/') + 1, r->only) != 0)
        return SWH_OK;
    FILE *f = fopen(path, "r");
    if (!f)
        return refuse(err, path, errno);
    char line[LINE];
    while (fgets(line, sizeof line, f)) {
        long index = 0;
        struct swh_sweep_row row;
        if (!read_line(line, r->sweep->plan.axes, r->sweep->plan.count, &index, &row))
            continue;
        r->restored += !r->rows[index].done;
        r->rows[index] = row;
    }
    fclose(f);
    return SWH_OK;
}

enum swh_status swh_journal_restore(const char *folder, const struct swh_sweep *sweep, bool all,
                                    struct swh_sweep_row *rows, long *restored, struct swh_error *err)
{
    char own[NAME];
    name_of(sweep, own, sizeof own);
    struct restoring r = {sweep, all || sweep->shards == 1 ? NULL : own, rows, 0};
    const enum swh_status status = each_journal(folder, sweep, restore_one, &r, err);
    *restored = r.restored;
    return status;
}

/* ---- writing ---- */

enum swh_status swh_journal_open(struct swh_journal *j, const char *folder, const struct swh_sweep *sweep,
                                 struct swh_error *err)
{
    char name[NAME];
    name_of(sweep, name, sizeof name);
    snprintf(j->path, sizeof j->path, "%s/%s", folder, name);
    j->axes = sweep->plan.axes;
    j->fd = open(j->path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (j->fd < 0)
        return refuse(err, j->path, errno);
    const struct flock whole = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    if (fcntl(j->fd, F_SETLK, &whole) != 0 && (errno == EACCES || errno == EAGAIN)) {
        swh_error_set(err, SWH_ERR_OUTPUT, "another process is at work on this sweep");
        swh_error_at(err, j->path, 0, 0);
        swh_journal_close(j);
        return SWH_ERR_OUTPUT;
    }
    /* a line cut off by a crash is ended here, so that the next one begins on its own */
    char last = '\n';
    const off_t end = lseek(j->fd, 0, SEEK_END);
    if (end > 0 && (pread(j->fd, &last, 1, end - 1) != 1 || (last != '\n' && write(j->fd, "\n", 1) != 1))) {
        const enum swh_status status = refuse(err, j->path, errno);
        swh_journal_close(j);
        return status;
    }
    return SWH_OK;
}

enum swh_status swh_journal_add(struct swh_journal *j, long index, const struct swh_sweep_row *row,
                                struct swh_error *err)
{
    char line[LINE];
    const size_t n = write_line(line, index, row, j->axes);
    for (size_t done = 0; done < n;) {
        const ssize_t put = write(j->fd, line + done, n - done);
        if (put < 0 && errno != EINTR)
            return refuse(err, j->path, errno);
        done += put > 0 ? (size_t)put : 0;
    }
    if (fsync(j->fd) != 0 && errno != EINVAL && errno != ENOTSUP)
        return refuse(err, j->path, errno);
    return SWH_OK;
}

void swh_journal_close(struct swh_journal *j)
{
    if (j->fd >= 0)
        close(j->fd);
    j->fd = -1;
}

static enum swh_status remove_one(const char *path, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    unlink(path);
    return SWH_OK;
}

void swh_journal_remove(const char *folder, const struct swh_sweep *sweep)
{
    each_journal(folder, sweep, remove_one, NULL, NULL);
}
