#include "plots/page/gnuplot_process.h"

#include "model/base/utf8.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { IN, OUT, WORDS, ENDS, GLANCE = 100 /* ms, between looks at the clock and at `stop` */ };
static const size_t largest_picture = (size_t)256 << 20;

/* We hold one end of a socket that is its standard input, and of two more for what it draws and says.
 * Sockets, not pipes, because send() can be told not to raise SIGPIPE when gnuplot is gone; a library must
 * not change the caller's signal handling. */
struct process {
    const struct swh_gnuplot_work *work;
    pid_t pid;
    int end[ENDS];
    size_t told, drawn;
    double deadline; /* s */
    char words[400]; /* the last of what it says */
    bool gave_up, stopped, flooded, late;
    int unwritten; /* errno of the file that takes the picture */
};

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static enum swh_status missing(struct swh_error *err, int why)
{
    swh_error_set(err, SWH_ERR_OUTPUT, "cannot start gnuplot, which draws the pictures: %s", strerror(why));
    swh_error_expected(err, "gnuplot in the PATH (Debian package gnuplot-nox), or no pictures");
    return SWH_ERR_OUTPUT;
}

/* ---- starting ---- */

/* In a process group of its own, so that it can be ended together with what it started, and so that an
 * interrupt at the terminal reaches us alone. */
static int set_up(posix_spawnattr_t *a, posix_spawn_file_actions_t *actions, const int *its_end)
{
    int rc = posix_spawnattr_setpgroup(a, 0);
    if (rc == 0)
        rc = posix_spawnattr_setflags(a, POSIX_SPAWN_SETPGROUP);
    for (int i = 0; i < ENDS && rc == 0; i++)
        rc = posix_spawn_file_actions_adddup2(actions, its_end[i], i);
    return rc;
}

static int spawn(struct process *p, const int *its_end)
{
    /* -d: the user's own start-up file must not change our pictures */
    static char *const arguments[] = {"gnuplot", "-d", "-", NULL};
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    int rc = posix_spawn_file_actions_init(&actions);
    if (rc != 0)
        return rc;
    rc = posix_spawnattr_init(&attributes);
    if (rc == 0) {
        rc = set_up(&attributes, &actions, its_end);
        if (rc == 0)
            rc = posix_spawnp(&p->pid, arguments[0], &actions, &attributes, arguments, environ);
        posix_spawnattr_destroy(&attributes);
    }
    posix_spawn_file_actions_destroy(&actions);
    return rc;
}

static void close_end(struct process *p, int i)
{
    if (p->end[i] >= 0)
        close(p->end[i]);
    p->end[i] = -1;
}

static enum swh_status start(struct process *p, struct swh_error *err)
{
    int its_end[ENDS] = {-1, -1, -1}, rc = 0;
    for (int i = 0; i < ENDS && rc == 0; i++) {
        int both[2];
        /* Closed on exec from the start: a program that another thread starts just now must not keep our end
         * open, or gnuplot would wait for more for ever. */
        if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, both) != 0)
            rc = errno;
        else {
            p->end[i] = both[0];
            its_end[i] = both[1];
            fcntl(p->end[i], F_SETFL, O_NONBLOCK);
        }
    }
    if (rc == 0)
        rc = spawn(p, its_end);
    for (int i = 0; i < ENDS; i++)
        if (its_end[i] >= 0)
            close(its_end[i]);
    return rc == 0 ? SWH_OK : missing(err, rc);
}

/* ---- talking ---- */

static bool try_again(void)
{
    return errno == EINTR || errno == EAGAIN || errno == EWOULDBLOCK;
}

/* If gnuplot went away, its exit status and words will say why. */
static void tell(struct process *p)
{
    const struct swh_gnuplot_work *w = p->work;
    const ssize_t n = send(p->end[IN], w->script + p->told, w->length - p->told, MSG_NOSIGNAL);
    if (n < 0 && try_again())
        return;
    p->gave_up = n < 0;
    p->told += n > 0 ? (size_t)n : 0;
    if (p->gave_up || p->told == w->length)
        close_end(p, IN);
}

static bool write_all(int fd, const char *text, size_t n)
{
    while (n > 0) {
        const ssize_t done = write(fd, text, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        text += done;
        n -= (size_t)done;
    }
    return true;
}

static void keep_picture(struct process *p, const char *text, size_t n)
{
    p->drawn += n;
    p->flooded = p->drawn > largest_picture;
    errno = 0;
    if (!p->flooded && p->unwritten == 0 && !write_all(p->work->picture, text, n))
        p->unwritten = errno ? errno : EIO;
}

/* only the end of what it says: a gnuplot that talks without end fills no memory */
static void keep_words(struct process *p, const char *text, size_t n)
{
    const size_t room = sizeof p->words - 1;
    if (n > room) {
        text += n - room;
        n = room;
    }
    const size_t had = strlen(p->words), kept = had + n > room ? room - n : had;
    memmove(p->words, p->words + had - kept, kept);
    for (size_t i = 0; i < n; i++)
        p->words[kept + i] = text[i] ? text[i] : ' ';
    p->words[kept + n] = '\0';
}

static void listen_to(struct process *p, int i)
{
    char text[65536];
    const ssize_t n = recv(p->end[i], text, sizeof text, 0);
    if (n < 0 && try_again())
        return;
    if (n <= 0)
        close_end(p, i);
    else if (i == OUT)
        keep_picture(p, text, (size_t)n);
    else
        keep_words(p, text, (size_t)n);
}

/* false: it is to be ended */
static bool goes_on(struct process *p)
{
    p->stopped = p->work->stop && p->work->stop();
    p->late = seconds_now() > p->deadline;
    return !p->stopped && !p->late && !p->flooded && p->unwritten == 0;
}

static void talk(struct process *p)
{
    while (goes_on(p) && (p->end[OUT] >= 0 || p->end[WORDS] >= 0)) {
        struct pollfd fd[ENDS];
        for (int i = 0; i < ENDS; i++)
            fd[i] = (struct pollfd){p->end[i], i == IN ? POLLOUT : POLLIN, 0};
        if (poll(fd, ENDS, GLANCE) <= 0)
            continue;
        if (p->end[IN] >= 0 && fd[IN].revents)
            tell(p);
        for (int i = OUT; i < ENDS; i++)
            if (p->end[i] >= 0 && fd[i].revents)
                listen_to(p, i);
    }
}

/* ---- ending ---- */

/* Waits for its end, or ends it; returns its status. */
static int wait_for(struct process *p)
{
    int status = 0;
    const struct timespec moment = {0, 2000000};
    while (goes_on(p)) {
        const pid_t ended = waitpid(p->pid, &status, WNOHANG);
        if (ended == p->pid || (ended < 0 && errno != EINTR))
            return status;
        nanosleep(&moment, NULL);
    }
    kill(-p->pid, SIGKILL);
    while (waitpid(p->pid, &status, 0) < 0 && errno == EINTR)
        ;
    return status;
}

/* The line of gnuplot's words that says what is wrong: the last one that is not empty, without its
 * indentation. */
static void last_words(char *words, char *out, size_t n)
{
    snprintf(out, n, "no reason given");
    for (char *line = words; line; line = strchr(line, '\n') ? strchr(line, '\n') + 1 : NULL) {
        const char *text = line + strspn(line, " \t^\"");
        const int length = (int)strcspn(text, "\n");
        if (length > 0)
            snprintf(out, n, "%.*s", length, text);
    }
    swh_utf8_clean(out, n, out);
}

static enum swh_status judge(struct process *p, int status, struct swh_error *err)
{
    char why[300];
    if (p->stopped)
        return swh_error_set(err, SWH_ERR_SOLVER, "interrupted while pictures were drawn");
    if (p->late)
        return swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot did not finish a picture within %g s",
                             p->work->patience);
    if (p->flooded)
        return swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot drew more than %zu MB", largest_picture >> 20);
    if (p->unwritten)
        return swh_error_set(err, SWH_ERR_OUTPUT, "cannot write the picture: %s", strerror(p->unwritten));
    last_words(p->words, why, sizeof why);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 127)
        return missing(err, ENOENT);
    if (WIFSIGNALED(status))
        return swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot was ended by signal %d", WTERMSIG(status));
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0 || p->gave_up || p->told < p->work->length)
        return swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot could not draw: %s", why);
    return SWH_OK;
}

enum swh_status swh_gnuplot_process(const struct swh_gnuplot_work *work, struct swh_error *err)
{
    struct process p = {.work = work, .end = {-1, -1, -1}, .deadline = seconds_now() + work->patience};
    enum swh_status status = start(&p, err);
    if (status == SWH_OK) {
        talk(&p);
        close_end(&p, IN);
        status = judge(&p, wait_for(&p), err);
    }
    for (int i = 0; i < ENDS; i++)
        close_end(&p, i);
    return status;
}
