/* Commands that read something back, in this process; their simulations, pictures and syncs are left out at
 * link time. FUZZ_WHAT says which. */
#include "cli/base/session.h"
#include "solver/infer/rank.h"
#include "solver/infer/test_plan.h"
#include "solver/study/sweep.h"
#include "tests/fuzz/fuzz.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PLAN, REPORT, FINDINGS, JOURNAL, LINE };

/* ---- what is left out ---- */

enum swh_status __wrap_swh_rank(const struct swh_rank_request *q, struct swh_ranking *out,
                                struct swh_error *err);
enum swh_status __wrap_swh_rank(const struct swh_rank_request *q, struct swh_ranking *out,
                                struct swh_error *err)
{
    (void)q;
    (void)out;
    return swh_error_set(err, SWH_ERR_SOLVER, "left out");
}

enum swh_status __wrap_swh_run(const struct swh_case *c, const struct swh_sinks *sinks,
                               struct swh_summary *summary, struct swh_error *err);
enum swh_status __wrap_swh_run(const struct swh_case *c, const struct swh_sinks *sinks,
                               struct swh_summary *summary, struct swh_error *err)
{
    (void)c;
    (void)sinks;
    memset(summary, 0, sizeof *summary);
    return swh_error_set(err, SWH_ERR_SOLVER, "left out");
}

int __wrap_posix_spawnp(pid_t *pid, const char *file, const posix_spawn_file_actions_t *actions,
                        const posix_spawnattr_t *attributes, char *const *arguments,
                        char *const *environment);
int __wrap_posix_spawnp(pid_t *pid, const char *file, const posix_spawn_file_actions_t *actions,
                        const posix_spawnattr_t *attributes, char *const *arguments, char *const *environment)
{
    (void)pid, (void)file, (void)actions, (void)attributes, (void)arguments, (void)environment;
    return ENOENT;
}

int __wrap_fsync(int fd);
int __wrap_fsync(int fd)
{
    (void)fd;
    return 0;
}

/* ---- calling a command ---- */

static void obey(int argc, char **argv)
{
    static struct swh_session s;
    memset(&s, 0, sizeof s);
    s.units = fuzz_units();
    if (swh_session_parse(&s, argc, argv) == SWH_OK && s.command && !swh_given(&s, SWH_OPT_help))
        s.command->run(&s);
    swh_tell_problems(&s.problems, stderr);
    fuzz_demand(!ferror(stdout), "standard output");
}

static const char *folder(void)
{
    static const char *path;
    if (!path) {
        path = fuzz_folder();
        fuzz_demand(freopen("/dev/null", "w", stdout) != NULL, "no standard output");
    }
    return path;
}

static const char *put(const char *name, const void *data, size_t size)
{
    static char path[FUZZ_FILES][160];
    static int turn;
    char *p = path[turn++ % FUZZ_FILES];
    snprintf(p, sizeof path[0], "%s/%s", folder(), name);
    const int fd = open(p, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    fuzz_demand(fd >= 0 && write(fd, data, size) == (ssize_t)size, "a file");
    close(fd);
    return p;
}

static const char vehicle[] = "[vehicle]\nrefrigerant = R134a\n";

static void plan(const uint8_t *data, size_t size)
{
    const char *from = put("rank.json", data, size), *v = put("v.ini", vehicle, sizeof vehicle - 1);
    char *argv[] = {"swashheat", "plan", "--vehicle", (char *)v, "--from",        (char *)from,
                    "--plot",    "none", "-q",        "-o",      (char *)folder()};
    obey(sizeof argv / sizeof *argv, argv);
}

static void report(const uint8_t *data, size_t size)
{
    static const char *const names[] = {"summary.json", "rank.json", "accept.json",  "provenance.json",
                                        "plan.json",    "job.ini",   "findings.ini", "sheet.csv",
                                        "events.csv",   "fit.json"};
    static const char *last;
    if (size == 0)
        return;
    if (last)
        unlink(last);
    last = put(names[data[0] % (sizeof names / sizeof *names)], data + 1, size - 1);
    char *argv[] = {"swashheat", "report", (char *)folder(), "-q"};
    obey(4, argv);
}

static void findings(const uint8_t *data, size_t size)
{
    static const char log[] =
        "time[s],suction_pressure[barg],discharge_pressure[barg],suction_temperature[degC],"
        "compressor_speed[rpm],clutch[1]\n0,2,14,18,1500,1\n30,2,14,19,1500,1\n80,2,15,18,1500,1\n";
    const char *f = put("f.ini", data, size), *v = put("v.ini", vehicle, sizeof vehicle - 1),
               *l = put("l.csv", log, sizeof log - 1);
    char *argv[] = {"swashheat", "rank",   (char *)l, "--vehicle", (char *)v, FUZZ_FINDINGS_OPTION,
                    (char *)f,   "--plot", "none",    "-q",        "-o",      (char *)folder()};
    obey(sizeof argv / sizeof *argv, argv);
}

static void line(const uint8_t *data, size_t size)
{
    char *argv[24] = {"swashheat"};
    int argc = 1;
    folder(); /* silences the standard output */
    for (char *word = strtok(fuzz_text(data, size), "\n"); word && argc < 24; word = strtok(NULL, "\n"))
        argv[argc++] = word;
    for (int i = 1; i < argc; i++) /* only what reads no file of the tester's and writes none */
        for (int c = 0; c < swh_command_count; c++)
            if (strcmp(argv[i], swh_commands[c].name) == 0 && strcmp(argv[i], "state") != 0 &&
                strcmp(argv[i], "list") != 0)
                return;
    if (argc < 2)
        return;
    obey(argc, argv);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static void (*const what[])(const uint8_t *, size_t) = {
        [PLAN] = plan, [REPORT] = report, [FINDINGS] = findings, [LINE] = line};
    what[FUZZ_WHAT](data, size);
    return 0;
}
