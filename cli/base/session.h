/* One call of the program: the command, its options and arguments, and what went wrong. */
#ifndef SWH_CLI_BASE_SESSION_H
#define SWH_CLI_BASE_SESSION_H

#include "solver/files/problems.h"
#include "solver/files/units.h"

#include <stdbool.h>
#include <stdio.h>

enum swh_option {
#define OPTION(id, letter, name, argument, words, help) SWH_OPT_##id,
#include "cli/base/options.def"
#undef OPTION
    SWH_OPT_COUNT
};
struct swh_option_info {
    char letter;                                /* or 0 */
    const char *name, *argument, *words, *help; /* argument NULL: takes none; words NULL: takes any */
};
extern const struct swh_option_info swh_option_table[SWH_OPT_COUNT];
#define SWH_OPTION(id) (1ull << SWH_OPT_##id)
_Static_assert(SWH_OPT_COUNT <= 64, "options fit in one mask");
#define SWH_SIMULATING                                                                                       \
    (SWH_OPTION(out) | SWH_OPTION(set) | SWH_OPTION(vehicle) | SWH_OPTION(json) | SWH_OPTION(units) |        \
     SWH_OPTION(plot) | SWH_OPTION(quiet) | SWH_OPTION(verbose))

struct swh_session;
struct swh_command {
    const char *name, *arguments;
    int least, most;            /* number of arguments */
    unsigned long long options; /* which it takes, besides --help */
    const char *help, *examples;
    enum swh_status (*run)(struct swh_session *s);
};
#define COMMAND(id, arguments, least, most, takes, line, examples)                                           \
    enum swh_status swh_cmd_##id(struct swh_session *s);
#include "cli/base/commands.def"
#undef COMMAND
extern const struct swh_command swh_commands[];
extern const int swh_command_count;

enum { SWH_ARGUMENTS_MAX = 64, SWH_OPTIONS_MAX = 128 };

struct swh_session {
    const struct swh_command *command; /* NULL: none given, or help for the whole program */
    int arguments;
    const char *argument[SWH_ARGUMENTS_MAX];
    int given;
    struct {
        enum swh_option option;
        const char *value;
    } option[SWH_OPTIONS_MAX];
    struct swh_units *units;
    struct swh_problems problems;
    int exit_code; /* other than what the first problem demands: `accept` sets 1 */
};

/* Splits the command line. SWH_ERR_USAGE, noted in s->problems. */
enum swh_status swh_session_parse(struct swh_session *s, int argc, char **argv);

bool swh_given(const struct swh_session *s, enum swh_option option);
const char *swh_option_value(const struct swh_session *s, enum swh_option option); /* the last one; NULL */
/* All values of a repeatable option into out (size SWH_OPTIONS_MAX); returns how many. */
int swh_option_values(const struct swh_session *s, enum swh_option option, const char **out);
enum swh_show swh_session_show(const struct swh_session *s);

/* Notes a problem, clears err, returns the status. */
enum swh_status swh_fail(struct swh_session *s, struct swh_error *err);
/* Notes that memory is short for `what`. SWH_ERR_MEMORY. */
enum swh_status swh_no_memory(struct swh_session *s, const char *what);
/* Notes a wrong use of the command line (printf format). */
enum swh_status swh_misuse(struct swh_session *s, const char *expected, const char *what, ...)
    __attribute__((format(printf, 3, 4)));

/* Help: of the command, or of the program if there is none. */
void swh_help(const struct swh_session *s, FILE *f);
/* The one place where errors are printed: `swashheat: FILE:LINE:COLUMN: what (expected ...)`, in the order of
 * the files' lines. */
void swh_tell_problems(struct swh_problems *p, FILE *f);

#endif
