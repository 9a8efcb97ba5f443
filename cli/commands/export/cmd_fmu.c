/* swashheat fmu: a vehicle packed as a unit of co-simulation. */
#include "cli/base/frame.h"
#include "cli/commands/export/model_description.h"
#include "solver/files/case_text.h"

#include <errno.h>
#include <math.h>
#include <minizip/zip.h>
#include <stdlib.h>
#include <string.h>
#include <sys/utsname.h>
#include <unistd.h>

static const char identifier[] = "swashheat";

struct job {
    struct swh_frame frame; /* first */
    char path[512], code[1100], platform[64];
    zipFile zip;
    struct swh_described described;
};

static enum swh_status unwritten(const char *path, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_OUTPUT, "cannot be written%s%s", errno ? ": " : "",
                  errno ? strerror(errno) : "");
    swh_error_at(err, path, 0, 0);
    swh_error_expected(err, "a folder that can be written to, and room on the device");
    return SWH_ERR_OUTPUT;
}

/* ---- what goes in ---- */

/* The machine's own code for masters: beside the program, or where it was installed. */
static enum swh_status find_code(struct job *j, struct swh_error *err)
{
    static const char *const places[] = {".", SWH_FMU_FOLDER};
    char program[900];
    const ssize_t n = readlink("/proc/self/exe", program, sizeof program - 1);
    program[n > 0 ? n : 0] = '\0';
    char *slash = strrchr(program, '/');
    if (slash)
        *slash = '\0';
    for (size_t i = 0; slash && i < sizeof places / sizeof places[0]; i++) {
        snprintf(j->code, sizeof j->code, "%s/%s/swashheat-fmu.so", program, places[i]);
        if (access(j->code, R_OK) == 0)
            return SWH_OK;
    }
    swh_error_set(err, SWH_ERR_INPUT, "the code of the unit, swashheat-fmu.so, is not there");
    swh_error_at(err, slash ? program : "swashheat", 0, 0);
    swh_error_expected(err, "it beside the program or in %s", SWH_FMU_FOLDER);
    return SWH_ERR_INPUT;
}

/* "x86_64-linux", as the standard names platforms */
static void name_platform(struct job *j)
{
    struct utsname u;
    const bool known = uname(&u) == 0;
    snprintf(j->platform, sizeof j->platform, "%.40s-linux", known ? u.machine : "x86_64");
}

/* The compressor alone: pressures of a machine at work in mild
 * weather to start with, until the master says. */
static void take_body(struct swh_case *c)
{
    struct swh_inputs *in = &c->conditions;
    c->choices.vehicle_circuit = SWH_CIRCUIT_PORTS;
    if (isnan(in->suction_pressure))
        in->suction_pressure = 3e5;
    if (isnan(in->discharge_pressure))
        in->discharge_pressure = 12e5;
    if (isnan(in->suction_temperature))
        in->suction_temperature = 288.15;
}

/* ---- packing ---- */

static bool put_bytes(struct job *j, const void *bytes, size_t n)
{
    return zipWriteInFileInZip(j->zip, bytes, (unsigned)n) == ZIP_OK;
}

static bool open_entry(struct job *j, const char *name)
{
    const zip_fileinfo info = {
        .tmz_date = {.tm_year = 1980, .tm_mday = 1}}; /* the same bits whenever it is made */
    return zipOpenNewFileInZip(j->zip, name, &info, NULL, 0, NULL, 0, NULL, Z_DEFLATED, 6) == ZIP_OK;
}

static bool put_string(struct job *j, const char *name, const char *text)
{
    return text && open_entry(j, name) && put_bytes(j, text, strlen(text)) &&
           zipCloseFileInZip(j->zip) == ZIP_OK;
}

static bool put_file(struct job *j, const char *name, const char *path)
{
    char piece[1 << 15];
    FILE *f = fopen(path, "rb");
    bool ok = f && open_entry(j, name);
    for (size_t n; ok && (n = fread(piece, 1, sizeof piece, f)) > 0;)
        ok = put_bytes(j, piece, n);
    ok = ok && !ferror(f) && zipCloseFileInZip(j->zip) == ZIP_OK;
    if (f)
        fclose(f);
    return ok;
}

static enum swh_status no_memory(struct swh_error *err)
{
    return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the unit's description");
}

static bool put_description(struct job *j, struct swh_error *err)
{
    char *text = NULL;
    size_t n = 0;
    FILE *f = open_memstream(&text, &n);
    if (!f)
        return no_memory(err) == SWH_OK;
    bool ok = swh_model_description(&j->frame.scenario, identifier, f, &j->described, err) == SWH_OK;
    const bool full = ferror(f) != 0;
    if (fclose(f) != 0 || full)
        ok = no_memory(err) == SWH_OK;
    ok = ok && put_string(j, "modelDescription.xml", text);
    free(text);
    return ok;
}

static bool put_case(struct job *j, struct swh_error *err)
{
    char *text = swh_case_text(&j->frame.scenario, "case-schedule.csv", "case-refrigerant.json", err);
    bool ok = put_string(j, "resources/case.ini", text);
    free(text);
    if (ok && j->frame.scenario.refrigerant)
        ok = put_file(j, "resources/case-refrigerant.json", j->frame.scenario.refrigerant->path);
    if (!ok || j->frame.scenario.c.schedule.rows == 0)
        return ok;
    text = swh_schedule_text(&j->frame.scenario.c.schedule, err);
    ok = put_string(j, "resources/case-schedule.csv", text);
    free(text);
    return ok;
}

/* The archive goes into a stream that is open already: minizip opens and closes nothing. */
static voidpf stream_of(voidpf opaque, const void *name, int mode)
{
    (void)name, (void)mode;
    return opaque;
}

static int leave_open(voidpf opaque, voidpf stream)
{
    (void)opaque, (void)stream;
    return 0;
}

static bool pack(struct job *j, FILE *f, struct swh_error *err)
{
    char binary[160];
    zlib_filefunc64_def calls;
    fill_fopen64_filefunc(&calls);
    calls.zopen64_file = stream_of;
    calls.zclose_file = leave_open;
    calls.opaque = f;
    snprintf(binary, sizeof binary, "binaries/%s/%s.so", j->platform, identifier);
    errno = 0;
    j->zip = zipOpen2_64(j->path, APPEND_STATUS_CREATE, NULL, &calls);
    if (!j->zip)
        return no_memory(err) == SWH_OK;
    const bool ok = put_description(j, err) && put_case(j, err) && put_file(j, binary, j->code);
    return (zipClose(j->zip, NULL) == ZIP_OK) && ok;
}

/* ---- the command ---- */

static enum swh_status prepare(void *job, struct swh_error *err)
{
    struct job *j = job;
    const char *out = swh_option_value(j->frame.session, SWH_OPT_out);
    const int n =
        snprintf(j->path, sizeof j->path, "%s%s", out ? out : j->frame.scenario.stem, out ? "" : ".fmu");
    if (n >= (int)sizeof j->path)
        return swh_misuse(j->frame.session, "a shorter name with -o", "'%.40s...' as the name of a file",
                          j->path);
    const char *part = swh_option_value(j->frame.session, SWH_OPT_part);
    if (part && strcmp(part, "body") == 0)
        take_body(&j->frame.scenario.c);
    name_platform(j);
    const enum swh_status status = swh_case_check(&j->frame.scenario.c, err);
    return status == SWH_OK ? find_code(j, err) : status;
}

/* the file in the making, in the folder of the path */
static FILE *begin_file(struct job *j, struct swh_error *err)
{
    char folder[sizeof j->path];
    const char *slash = strrchr(j->path, '/'), *name = slash ? slash + 1 : j->path;
    snprintf(folder, sizeof folder, "%.*s", slash && slash > j->path ? (int)(slash - j->path) : 1,
             slash ? j->path : ".");
    if (swh_out_begin_shared(&j->frame.out, folder, SWH_OUT_TOGETHER, err) != SWH_OK)
        return NULL;
    return swh_out_file(&j->frame.out, name, err);
}

static enum swh_status work(void *job, struct swh_error *err)
{
    struct job *j = job;
    FILE *f = begin_file(j, err);
    if (!f)
        return err->status;
    if (!pack(j, f, err))
        return err->status != SWH_OK ? err->status : unwritten(j->path, err);
    const enum swh_status status = swh_out_commit(&j->frame.out, err);
    if (status == SWH_OK && !swh_given(j->frame.session, SWH_OPT_quiet))
        printf("%s: %s for co-simulation (FMI 3.0, %s): %d inputs, %d outputs, %d parameters.\n", j->path,
               j->frame.scenario.c.choices.vehicle_circuit == SWH_CIRCUIT_PORTS ? "the compressor's body"
                                                                                : "the whole circuit",
               j->platform, j->described.inputs, j->described.outputs, j->described.parameters);
    return status;
}

enum swh_status swh_cmd_fmu(struct swh_session *s)
{
    static const struct swh_frame_kind kind = {"fmu", sizeof(struct job), prepare, work, NULL};
    return swh_frame_do(s, &kind);
}
