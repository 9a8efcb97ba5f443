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
    struct sigaction a;
    memset(&a, 0, sizeof a);
    a.sa_handler = note;
    a.sa_flags = (int)SA_RESETHAND; /* no SA_RESTART: a read that waits for more of a log ends too */
    sigemptyset(&a.sa_mask);
    sigaction(SIGINT, &a, NULL);
    sigaction(SIGTERM, &a, NULL);
}

bool swh_interrupted(void)
{
    return asked != 0;
}
