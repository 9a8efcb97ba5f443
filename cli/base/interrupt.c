#include "cli/base/interrupt.h"

#include <signal.h>
#include <string.h>

static volatile sig_atomic_t asked; /* a signal handler has nothing else to write to */

static void note(int signal_number)
{
    (void)signal_number;
    asked = 1;
}

void swh_interrupt_watch(void)
{
    static const int ends[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction a, before;
    memset(&a, 0, sizeof a);
    a.sa_handler = note;
    a.sa_flags = (int)SA_RESETHAND; /* no SA_RESTART: a read that waits for more of a log ends too */
    sigemptyset(&a.sa_mask);
    for (size_t i = 0; i < sizeof ends / sizeof ends[0];
         i++) /* what the caller ignores, as nohup does, stays so */
        if (sigaction(ends[i], NULL, &before) == 0 && before.sa_handler == SIG_DFL && !asked)
            sigaction(ends[i], &a, NULL);
}

bool swh_interrupted(void)
{
    return asked != 0;
}
