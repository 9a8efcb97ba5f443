/* swashheat: reads the command line, calls the command, says what went wrong. */
#include "cli/base/json_memory.h"
#include "cli/base/result_folder.h"
#include "cli/base/session.h"

#include <fcntl.h>
#include <signal.h>
#include <string.h>
#include <swashheat/version.h>
#include <unistd.h>

static enum swh_status run_command(struct swh_session *s)
{
    struct swh_error err = {0};
    s->units = swh_units_create(&err);
    if (!s->units)
        return swh_fail(s, &err);
    const enum swh_status status = s->command->run(s);
    swh_units_free(s->units);
    return status;
}

static enum swh_status obey(struct swh_session *s, int argc, char **argv)
{
    const enum swh_status status = swh_session_parse(s, argc, argv);
    if (status != SWH_OK)
        return status;
    if (swh_given(s, SWH_OPT_help) || (argc > 1 && strcmp(argv[1], "help") == 0))
        swh_help(s, stdout);
    else if (swh_given(s, SWH_OPT_version))
        printf("swashheat %s (commit %s)\n", swh_version(), swh_commit());
    else if (!s->command)
        return swh_misuse(s, "a command", "nothing to do");
    else
        return run_command(s);
    return SWH_OK;
}

/* A caller that closed one of the first three descriptors would get our messages, or our standard output,
 * into the first file that we open. Each gets a place holder that fails when it is used the way it is meant
 * to be, but for messages, which nobody wants then. */
static void fill_descriptors(void)
{
    static const int mode[] = {O_WRONLY, O_RDONLY, O_WRONLY}; /* of standard input, output and error */
    for (int fd = 0; fd < 3; fd++)
        if (fcntl(fd, F_GETFD) < 0 && open("/dev/null", mode[fd]) != fd)
            _exit(swh_status_exit_code(SWH_ERR_OUTPUT));
}

int main(int argc, char **argv)
{
    static struct swh_session s;
    struct swh_error err = {0};
    fill_descriptors();
    swh_json_watch();
    signal(SIGXFSZ, SIG_IGN); /* a file that grows too large is an error like any other */
    signal(SIGPIPE, SIG_IGN); /* so is a reader that has gone: the results folder is finished all the same */
    enum swh_status status = obey(&s, argc, argv);
    if (status == SWH_OK)
        status = swh_problems_status(&s.problems);
    const enum swh_status written = swh_out_close_stdout(&err);
    if (written != SWH_OK && status == SWH_OK)
        status = err.status != SWH_OK ? swh_fail(&s, &err) : written;
    if (swh_json_whole(&err) != SWH_OK && status != SWH_ERR_MEMORY) /* whatever else it led to */
        status = swh_fail(&s, &err);
    swh_tell_problems(&s.problems, stderr);
    if (status == SWH_ERR_USAGE && !s.command)
        swh_help(&s, stderr);
    else if (status == SWH_ERR_USAGE)
        fprintf(stderr, "Usage: swashheat %s %s [options]; swashheat %s --help explains more\n",
                s.command->name, s.command->arguments, s.command->name);
    return status == SWH_OK ? s.exit_code : swh_status_exit_code(status);
}
