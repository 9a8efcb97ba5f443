#include "cli/base/provenance.h"

#include "cli/base/result.h"
#include "solver/files/case_text.h"

#include <errno.h>
#include <nettle/sha2.h>
#include <stdlib.h>
#include <string.h>
#include <swashheat/version.h>
#include <sys/stat.h>

/* What is larger is named with its checksum, and not copied. */
enum { COPY_MOST = 256 << 20 };

enum { INPUTS_MAX = 24 };
struct input {
    const char *path, *role;
    char copy[64]; /* in the folder; "": none is made */
    char checksum[2 * SHA256_DIGEST_SIZE + 1];
    long long bytes; /* -1: it cannot be read again (a pipe) */
};
struct inputs {
    struct input item[INPUTS_MAX];
    int count;
};

/* ---- which files went in ---- */

static bool is_file(const char *path, struct stat *st)
{
    return strcmp(path, "-") != 0 && stat(path, st) == 0 && S_ISREG(st->st_mode);
}

static void note(struct inputs *in, const char *path, const char *role, const char *copy)
{
    struct stat st;
    if (!path || path[0] == '\0' || in->count == INPUTS_MAX)
        return;
    for (int i = 0; i < in->count; i++)
        if (strcmp(in->item[i].path, path) == 0)
            return;
    struct input *one = &in->item[in->count++];
    *one =
        (struct input){.path = path, .role = role, .bytes = is_file(path, &st) ? (long long)st.st_size : -1};
    if (one->bytes >= 0 && one->bytes <= COPY_MOST)
        snprintf(one->copy, sizeof one->copy, "%s", copy);
}

static bool takes(const struct swh_frame *frame, enum swh_option option)
{
    return (frame->session->command->options & 1ull << option) != 0;
}

static void collect(const struct swh_frame *frame, struct inputs *in)
{
    const struct swh_session *s = frame->session;
    const struct swh_scenario *scenario = &frame->scenario;
    for (int i = 0; i < s->arguments && takes(frame, SWH_OPT_columns); i++) {
        char copy[32];
        snprintf(copy, sizeof copy, "input-%d.csv", i + 1);
        note(in, s->argument[i], "log", copy);
    }
    note(in, swh_option_value(s, SWH_OPT_columns), "columns", "input-columns.ini");
    note(in, swh_option_value(s, SWH_OPT_bench), "findings", "input-findings.ini");
    const bool plan = strcmp(s->command->name, "plan") == 0;
    note(in, swh_option_value(s, SWH_OPT_from), plan ? "ranking" : "fit",
         plan ? "input-ranking.json" : "input-fit.json");
    note(in, scenario->path, "scenario", "");
    note(in, scenario->vehicle, "vehicle", "");
    note(in, scenario->schedule, "schedule", "");
    note(in, scenario->refrigerant ? scenario->refrigerant->path : NULL, "refrigerant", SWH_REFRIGERANT_COPY);
}

/* ---- reading them ---- */

static void put_checksum(struct sha256_ctx *sum, char out[2 * SHA256_DIGEST_SIZE + 1])
{
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_digest(sum, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++)
        snprintf(out + 2 * i, 3, "%02x", digest[i]);
}

static enum swh_status unread(const struct input *in, int why, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "cannot be read again for its checksum: %s", strerror(why));
    swh_error_at(err, in->path, 0, 0);
    return SWH_ERR_INPUT;
}

/* reads a file once: its checksum, and its copy */
static enum swh_status take_in(struct swh_frame *frame, struct input *in, struct swh_error *err)
{
    uint8_t piece[16384];
    struct sha256_ctx sum;
    FILE *copy = NULL, *f = in->bytes >= 0 ? fopen(in->path, "rb") : NULL;
    if (!f && in->bytes >= 0)
        return unread(in, errno, err);
    if (!f) {
        in->copy[0] = '\0';
        return SWH_OK;
    }
    if (in->copy[0] && !(copy = swh_frame_file(frame, in->copy, err))) {
        fclose(f);
        return SWH_ERR_OUTPUT;
    }
    sha256_init(&sum);
    for (size_t n; (n = fread(piece, 1, sizeof piece, f)) > 0;) {
        sha256_update(&sum, n, piece);
        if (copy)
            fwrite(piece, 1, n, copy); /* what fails here shows at the commit */
    }
    const bool whole = !ferror(f);
    fclose(f);
    put_checksum(&sum, in->checksum);
    return whole ? SWH_OK : unread(in, EIO, err);
}

/* ---- how to repeat it ---- */

static const char *copy_of(const struct inputs *in, const char *path)
{
    for (int i = 0; i < in->count; i++)
        if (strcmp(in->item[i].path, path) == 0)
            return in->item[i].copy[0] ? in->item[i].copy : path;
    return path;
}

static void add_text(json_t *list, const char *text)
{
    json_array_append_new(list, swh_json_text(text));
}

static void add_option(json_t *list, const struct swh_session *s, int i, const struct inputs *in)
{
    const enum swh_option o = s->option[i].option;
    char name[64];
    if (o == SWH_OPT_out || o == SWH_OPT_set || o == SWH_OPT_vehicle || o == SWH_OPT_merge)
        return;
    snprintf(name, sizeof name, "--%s", swh_option_table[o].name);
    add_text(list, name);
    if (s->option[i].value)
        add_text(list, in ? copy_of(in, s->option[i].value) : s->option[i].value);
}

/* the command that computes the folder's results again, called in the folder */
static json_t *repeat(const struct swh_frame *frame, const struct inputs *in)
{
    const struct swh_session *s = frame->session;
    json_t *list = json_array();
    add_text(list, "swashheat");
    add_text(list, s->command->name);
    const bool logs = takes(frame, SWH_OPT_columns);
    for (int i = 0; i < s->arguments && logs; i++)
        add_text(list, copy_of(in, s->argument[i]));
    if (logs || s->arguments == 0)
        add_text(list, "--vehicle");
    add_text(list, "case.ini");
    for (int i = 0; i < s->given; i++)
        add_option(list, s, i, in);
    return list;
}

/* the command as it was given */
static json_t *given(const struct swh_frame *frame)
{
    const struct swh_session *s = frame->session;
    json_t *list = json_array();
    add_text(list, "swashheat");
    add_text(list, s->command->name);
    for (int i = 0; i < s->arguments; i++)
        add_text(list, s->argument[i]);
    for (int i = 0; i < s->given; i++) {
        char name[64];
        snprintf(name, sizeof name, "--%s", swh_option_table[s->option[i].option].name);
        add_text(list, name);
        if (s->option[i].value)
            add_text(list, s->option[i].value);
    }
    return list;
}

/* ---- writing ---- */

static json_t *inputs_json(const struct inputs *in)
{
    json_t *all = json_array();
    for (int i = 0; i < in->count; i++) {
        const struct input *one = &in->item[i];
        const bool read = one->bytes >= 0;
        json_t *o = json_object();
        json_object_set_new(o, "role", json_string(one->role));
        json_object_set_new(o, "file", swh_json_text(one->path));
        json_object_set_new(o, "bytes", read ? json_integer(one->bytes) : json_null());
        json_object_set_new(o, "sha256", read ? json_string(one->checksum) : json_null());
        json_object_set_new(o, "copy", one->copy[0] ? json_string(one->copy) : json_null());
        json_array_append_new(all, o);
    }
    return all;
}

/* the seed, where something was drawn at random */
static json_t *seed_json(const struct swh_frame *frame)
{
    const char *seed = swh_option_value(frame->session, SWH_OPT_seed);
    const bool draws =
        seed || swh_given(frame->session, SWH_OPT_ensemble) || swh_given(frame->session, SWH_OPT_sample);
    return draws ? json_integer(seed ? strtoll(seed, NULL, 10) : 1) : json_null();
}

static json_t *provenance_json(const struct swh_frame *frame, const struct inputs *in)
{
    json_t *o = json_object();
    json_object_set_new(o, "program", json_string("swashheat"));
    json_object_set_new(o, "version", json_string(swh_version()));
    json_object_set_new(o, "commit", json_string(swh_commit()));
    json_object_set_new(o, "command", given(frame));
    json_object_set_new(o, "repeat", repeat(frame, in));
    json_object_set_new(o, "case", json_string("case.ini"));
    json_object_set_new(o, "seed", seed_json(frame));
    json_object_set_new(o, "inputs", inputs_json(in));
    return o;
}

static enum swh_status put_text(struct swh_frame *frame, const char *name, char *text, struct swh_error *err)
{
    FILE *f = text ? swh_frame_file(frame, name, err) : NULL;
    const enum swh_status status = f ? SWH_OK : text ? SWH_ERR_OUTPUT : SWH_ERR_MEMORY;
    if (f)
        fputs(text, f); /* what fails here shows at the commit */
    free(text);
    return status;
}

enum swh_status swh_provenance_add(struct swh_frame *frame, struct swh_error *err)
{
    static const char schedule[] = "case-schedule.csv";
    struct inputs in = {.count = 0};
    const struct swh_scenario *s = &frame->scenario;
    enum swh_status status =
        put_text(frame, "case.ini", swh_case_text(s, schedule, SWH_REFRIGERANT_COPY, err), err);
    if (status == SWH_OK && s->c.schedule.rows > 0)
        status = put_text(frame, schedule, swh_schedule_text(&s->c.schedule, err), err);
    collect(frame, &in);
    for (int i = 0; i < in.count && status == SWH_OK; i++)
        status = take_in(frame, &in.item[i], err);
    return status == SWH_OK ? swh_frame_put_json(frame, "provenance.json", provenance_json(frame, &in), err)
                            : status;
}
