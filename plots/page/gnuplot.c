#include "plots/page/gnuplot.h"

#include "plots/page/page.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

static const char *const endings[] = {"", "png", "svg", "pdf"};

int swh_plot_format_find(const char *word)
{
    if (strcmp(word, "none") == 0)
        return SWH_PLOT_NONE;
    for (int i = SWH_PLOT_PNG; i <= SWH_PLOT_PDF; i++)
        if (strcmp(word, endings[i]) == 0)
            return i;
    return -1;
}

void swh_plot_path(const struct swh_plot_options *o, const char *name, char *out, size_t n)
{
    snprintf(out, n, "%s/%s.%s", o->folder, name, endings[o->format]);
}

/* A gnuplot process: we hold one end of a socket that is its standard input. A socket, not a pipe, because
 * send() can be told not to raise SIGPIPE when gnuplot is gone; a library must not change the caller's signal
 * handling. */
struct process {
    pid_t pid;
    int in;      /* our end of its standard input */
    FILE *words; /* what it says on standard output and error */
};

static enum swh_status missing(struct swh_error *err, int why)
{
    swh_error_set(err, SWH_ERR_OUTPUT, "cannot start gnuplot, which draws the pictures: %s", strerror(why));
    swh_error_expected(err, "gnuplot in the PATH (Debian package gnuplot-nox), or no pictures");
    return SWH_ERR_OUTPUT;
}

static int spawn(struct process *p, int its_end)
{
    /* -d: the user's own start-up file must not change our pictures */
    static char *const arguments[] = {"gnuplot", "-d", "-", NULL};
    posix_spawn_file_actions_t actions;
    int rc = posix_spawn_file_actions_init(&actions);
    if (rc != 0)
        return rc;
    const int words = fileno(p->words);
    rc = posix_spawn_file_actions_adddup2(&actions, its_end, STDIN_FILENO);
    if (rc == 0)
        rc = posix_spawn_file_actions_adddup2(&actions, words, STDOUT_FILENO);
    if (rc == 0)
        rc = posix_spawn_file_actions_adddup2(&actions, words, STDERR_FILENO);
    if (rc == 0)
        rc = posix_spawnp(&p->pid, arguments[0], &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    return rc;
}

static enum swh_status start(struct process *p, struct swh_error *err)
{
    int ends[2] = {-1, -1};
    p->words = tmpfile();
    if (!p->words)
        return swh_error_set(err, SWH_ERR_OUTPUT, "cannot make a temporary file: %s", strerror(errno));
    /* Closed on exec from the start: a program that another thread starts just now must not keep our end
     * open, or gnuplot would wait for more for ever. */
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0) {
        const int why = errno;
        fclose(p->words);
        return missing(err, why);
    }
    fcntl(fileno(p->words), F_SETFD, FD_CLOEXEC);
    const int rc = spawn(p, ends[1]);
    close(ends[1]);
    p->in = ends[0];
    if (rc == 0)
        return SWH_OK;
    close(p->in);
    fclose(p->words);
    return missing(err, rc);
}

/* false if gnuplot went away; its exit status and words then say why */
static bool tell(const struct process *p, const char *text, size_t length)
{
    while (length > 0) {
        const ssize_t sent = send(p->in, text, length, MSG_NOSIGNAL);
        if (sent < 0 && errno == EINTR)
            continue;
        if (sent < 0)
            return false;
        text += sent;
        length -= (size_t)sent;
    }
    return true;
}

/* The line of gnuplot's words that says what is wrong: the last one that is not empty, without its
 * indentation. */
static void last_words(FILE *words, char *out, size_t n)
{
    char line[400];
    snprintf(out, n, "no reason given");
    rewind(words);
    while (fgets(line, sizeof line, words)) {
        line[strcspn(line, "\n")] = '\0';
        const char *text = line + strspn(line, " \t^\"");
        if (*text != '\0')
            snprintf(out, n, "%s", text);
    }
}

static enum swh_status finish(struct process *p, bool told, struct swh_error *err)
{
    int status = 0;
    char why[300];
    close(p->in);
    while (waitpid(p->pid, &status, 0) < 0 && errno == EINTR)
        ;
    last_words(p->words, why, sizeof why);
    fclose(p->words);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 127)
        return missing(err, ENOENT);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0 && told)
        return SWH_OK;
    if (WIFSIGNALED(status))
        return swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot was ended by signal %d", WTERMSIG(status));
    return swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot could not draw: %s", why);
}

/* Terminal and output. Fonts: DejaVu Sans comes with every Debian that has fontconfig; a browser that shows
 * the SVG has its own sans-serif. */
static int heading(const struct swh_plot_options *o, int height, const char *file, char *out, size_t n)
{
    /* pdfcairo wants inches: 100 pixels of the others are one inch, its fonts scale from points accordingly
     */
    static const char png[] = "pngcairo size %d,%d font 'DejaVu Sans,13' noenhanced background rgb 'white'";
    static const char svg[] = "svg size %d,%d font 'sans-serif,16' enhanced background rgb 'white'";
    static const char pdf[] =
        "pdfcairo size %d.0/100,%d.0/100 font 'DejaVu Sans,13' fontscale 0.72 noenhanced "
        "background rgb 'white'";
    static const char *const terminal[] = {"", png, svg, pdf};
    char set[200];
    snprintf(set, sizeof set, terminal[o->format], SWH_PAGE_WIDTH, height);
    return snprintf(out, n, "set terminal %s\nset output '%s'\n", set, file);
}

static enum swh_status draw_to(const struct swh_plot_options *o, int height, const char *file,
                               const char *script, size_t length, struct swh_error *err)
{
    char head[1500];
    struct process p = {.in = -1};
    if (heading(o, height, file, head, sizeof head) >= (int)sizeof head)
        return swh_error_set(err, SWH_ERR_OUTPUT, "the folder's name is too long");
    const enum swh_status status = start(&p, err);
    if (status != SWH_OK)
        return status;
    const bool told =
        tell(&p, head, strlen(head)) && tell(&p, script, length) && tell(&p, "\nset output\n", 12);
    return finish(&p, told, err);
}

/* gnuplot takes a name between single quotes literally, except that '' stands for a quote. */
static bool quote(const char *name, char *out, size_t n)
{
    size_t k = 0;
    for (; *name; name++) {
        if (k + 3 > n)
            return false;
        if (*name == '\'')
            out[k++] = '\'';
        out[k++] = *name;
    }
    out[k] = '\0';
    return true;
}

/* Makes an empty file beside the picture: the place where gnuplot writes, and the proof that it can. */
static enum swh_status make_beside(const char *path, char *beside, size_t n, struct swh_error *err)
{
    snprintf(beside, n, "%s.%ld.part", path, (long)getpid());
    const int fd = open(beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    if (fd < 0) {
        swh_error_set(err, SWH_ERR_OUTPUT, "cannot write the picture: %s", strerror(errno));
        swh_error_at(err, path, 0, 0);
        return SWH_ERR_OUTPUT;
    }
    close(fd);
    return SWH_OK;
}

static bool holds_something(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && st.st_size > 0;
}

enum swh_status swh_gnuplot_draw(const struct swh_plot_options *o, const char *name, int height,
                                 const char *script, size_t length, struct swh_error *err)
{
    char path[600], beside[640], quoted[1300];
    if (strlen(o->folder) + strlen(name) + 8 > sizeof path)
        return swh_error_set(err, SWH_ERR_OUTPUT, "the folder's name is too long: %s", o->folder);
    swh_plot_path(o, name, path, sizeof path);
    enum swh_status status = make_beside(path, beside, sizeof beside, err);
    if (status != SWH_OK)
        return status;
    if (!quote(beside, quoted, sizeof quoted))
        status = swh_error_set(err, SWH_ERR_OUTPUT, "the folder's name is too long: %s", o->folder);
    if (status == SWH_OK)
        status = draw_to(o, height, quoted, script, length, err);
    if (status == SWH_OK && !holds_something(beside))
        status = swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot drew nothing");
    if (status == SWH_OK && rename(beside, path) != 0)
        status = swh_error_set(err, SWH_ERR_OUTPUT, "cannot write the picture: %s", strerror(errno));
    if (status != SWH_OK) {
        unlink(beside);
        swh_error_at(err, path, 0, 0);
    }
    return status;
}
