#include "cli/base/session.h"

#include "model/base/utf8.h"
#include "solver/files/suggest.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

const struct swh_option_info swh_option_table[SWH_OPT_COUNT] = {
#define OPTION(id, letter, name, argument, words, help) {letter, name, argument, words, help},
#include "cli/base/options.def"
#undef OPTION
};

const struct swh_command swh_commands[] = {
#define COMMAND(id, arguments, least, most, takes, line, examples)                                           \
    {#id, arguments, least, most, (takes) | SWH_OPTION(help), line, examples, swh_cmd_##id},
#include "cli/base/commands.def"
#undef COMMAND
};
const int swh_command_count = (int)(sizeof swh_commands / sizeof swh_commands[0]);

enum swh_status swh_fail(struct swh_session *s, struct swh_error *err)
{
    const enum swh_status status = swh_problems_add(&s->problems, err);
    swh_error_clear(err);
    return status;
}

enum swh_status swh_no_memory(struct swh_session *s, const char *what)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_MEMORY, "no memory for %s", what);
    return swh_fail(s, &err);
}

enum swh_status swh_misuse(struct swh_session *s, const char *expected, const char *what, ...)
{
    struct swh_error err = {.status = SWH_ERR_USAGE};
    va_list ap;
    va_start(ap, what);
    vsnprintf(err.what, sizeof err.what, what, ap);
    va_end(ap);
    if (expected)
        swh_error_expected(&err, "%s", expected);
    return swh_fail(s, &err);
}

/* ---- reading the command line ---- */

static enum swh_status find_command(struct swh_session *s, const char *name)
{
    struct swh_nearest near = {name, NULL, 0};
    for (int i = 0; i < swh_command_count; i++) {
        swh_nearest_offer(&near, swh_commands[i].name);
        if (strcmp(swh_commands[i].name, name) == 0) {
            s->command = &swh_commands[i];
            return SWH_OK;
        }
    }
    char expected[128];
    snprintf(expected, sizeof expected, "a command%s", swh_nearest_said(&near).text);
    return swh_misuse(s, expected, "unknown command '%s'", name);
}

/* "--units=si" and "--units si", "-oDIR" and "-o DIR"; -1 if there is no such option */
static int find_option(const struct swh_session *s, const char *text, const char **value)
{
    const char *equals = strchr(text, '=');
    const size_t n = equals ? (size_t)(equals - text) : strlen(text);
    for (int i = 0; i < SWH_OPT_COUNT; i++) {
        if (s->command && !(s->command->options & 1ull << i))
            continue;
        if (text[1] != '-' && swh_option_table[i].letter == text[1] && swh_option_table[i].letter) {
            *value = text[2] ? text + 2 : NULL;
            return i;
        }
        if (text[1] == '-' && strlen(swh_option_table[i].name) == n - 2 &&
            strncmp(swh_option_table[i].name, text + 2, n - 2) == 0) {
            *value = equals ? equals + 1 : NULL;
            return i;
        }
    }
    return -1;
}

static enum swh_status unknown_option(struct swh_session *s, const char *text)
{
    char expected[160] = "--help";
    struct swh_nearest near = {text + strspn(text, "-"), NULL, 0};
    for (int i = 0; i < SWH_OPT_COUNT; i++)
        if (!s->command || s->command->options & 1ull << i)
            swh_nearest_offer(&near, swh_option_table[i].name);
    if (near.best)
        snprintf(expected, sizeof expected, "an option that it takes%s%s",
                 swh_nearest_is_near(&near) ? "; the nearest is --" : ": --help tells them",
                 swh_nearest_is_near(&near) ? near.best : "");
    return swh_misuse(s, expected, "unknown option '%s' for %s", text,
                      s->command ? s->command->name : "swashheat");
}

static bool is_word_of(const char *words, const char *value)
{
    const size_t n = strlen(value);
    for (const char *w = words; w && n > 0; w = strchr(w, '|') ? strchr(w, '|') + 1 : NULL)
        if (strcspn(w, "|") == n && strncmp(w, value, n) == 0)
            return true;
    return false;
}

static enum swh_status take_option(struct swh_session *s, int argc, char **argv, int *i)
{
    const char *value = NULL, *text = argv[*i];
    const int o = find_option(s, text, &value);
    if (o < 0)
        return unknown_option(s, text);
    if (swh_option_table[o].argument && !value && *i + 1 < argc)
        value = argv[++*i];
    if (swh_option_table[o].argument && !value)
        return swh_misuse(s, swh_option_table[o].argument, "nothing after '%s'", text);
    if (!swh_option_table[o].argument && value)
        return swh_misuse(s, NULL, "'%s' takes no value", text);
    if (swh_option_table[o].words && value && !is_word_of(swh_option_table[o].words, value))
        return swh_misuse(s, swh_option_table[o].words, "'%s' for --%s", value, swh_option_table[o].name);
    if (s->given == SWH_OPTIONS_MAX)
        return swh_misuse(s, "fewer", "too many options");
    s->option[s->given].option = (enum swh_option)o;
    s->option[s->given++].value = value;
    return SWH_OK;
}

static enum swh_status take_argument(struct swh_session *s, const char *text)
{
    if (!s->command && s->arguments == 0 && strcmp(text, "help") != 0)
        return find_command(s, text);
    if (!s->command)
        return SWH_OK;
    if (s->arguments == SWH_ARGUMENTS_MAX)
        return swh_misuse(s, "fewer", "too many arguments");
    s->argument[s->arguments++] = text;
    return SWH_OK;
}

static enum swh_status check_count(struct swh_session *s)
{
    const struct swh_command *c = s->command;
    if (!c || swh_given(s, SWH_OPT_help))
        return SWH_OK;
    if (s->arguments < c->least)
        return swh_misuse(s, c->arguments, "'%s' needs something to work on", c->name);
    if (s->arguments > c->most)
        return swh_misuse(s, c->arguments, "too much for '%s': %s", c->name, s->argument[c->most]);
    return SWH_OK;
}

/* A name with a line's end or an escape sequence in it would go on to terminals, pages and INI files. */
static enum swh_status check_characters(struct swh_session *s, int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        if (swh_utf8_controls(argv[i]))
            return swh_misuse(s, "names and values without them", "a control character in '%.200s'", argv[i]);
    return SWH_OK;
}

/* --threads holds for whatever works in parallel, in the library too, which asks the environment. */
static enum swh_status limit_threads(struct swh_session *s)
{
    const char *text = swh_option_value(s, SWH_OPT_threads);
    char *end = NULL;
    const long n = text ? strtol(text, &end, 10) : 1;
    if (text && (end == text || *end != '\0' || n < 1 || n > 1024))
        return swh_misuse(s, "a count from 1 to 1024", "--threads: '%.40s' is not a count", text);
    if (text && setenv("OMP_NUM_THREADS", text, 1) != 0)
        return swh_no_memory(s, "a command");
    return SWH_OK;
}

enum swh_status swh_session_parse(struct swh_session *s, int argc, char **argv)
{
    enum swh_status status = check_characters(s, argc, argv);
    bool options_end = false;
    for (int i = 1; i < argc && status == SWH_OK; i++) {
        if (!options_end && strcmp(argv[i], "--") == 0)
            options_end = true;
        else if (!options_end && argv[i][0] == '-' && argv[i][1] != '\0')
            status = take_option(s, argc, argv, &i);
        else
            status = take_argument(s, argv[i]);
    }
    if (status == SWH_OK)
        status = check_count(s);
    return status == SWH_OK ? limit_threads(s) : status;
}

bool swh_given(const struct swh_session *s, enum swh_option option)
{
    for (int i = 0; i < s->given; i++)
        if (s->option[i].option == option)
            return true;
    return false;
}

const char *swh_option_value(const struct swh_session *s, enum swh_option option)
{
    const char *value = NULL;
    for (int i = 0; i < s->given; i++)
        if (s->option[i].option == option)
            value = s->option[i].value;
    return value;
}

int swh_option_values(const struct swh_session *s, enum swh_option option, const char **out)
{
    int n = 0;
    for (int i = 0; i < s->given; i++)
        if (s->option[i].option == option)
            out[n++] = s->option[i].value;
    return n;
}

enum swh_show swh_session_show(const struct swh_session *s)
{
    const char *word = swh_option_value(s, SWH_OPT_units);
    return word && strcmp(word, "trade") == 0 ? SWH_SHOW_TRADE : SWH_SHOW_SI;
}

/* ---- help ---- */

static void help_options(const struct swh_command *c, FILE *f)
{
    for (int i = 0; i < SWH_OPT_COUNT; i++) {
        char left[48];
        if (!(c->options & 1ull << i))
            continue;
        const char letter[] = {swh_option_table[i].letter ? '-' : ' ',
                               swh_option_table[i].letter ? swh_option_table[i].letter : ' ',
                               swh_option_table[i].letter ? ',' : ' ', '\0'};
        snprintf(left, sizeof left, "%s --%s%s%s", letter, swh_option_table[i].name,
                 swh_option_table[i].argument ? " " : "",
                 swh_option_table[i].argument ? swh_option_table[i].argument : "");
        fprintf(f, "  %-26s %s\n", left, swh_option_table[i].help);
    }
}

static void help_examples(const char *examples, FILE *f)
{
    for (const char *line = examples; *line; line += strcspn(line, "\n") + 1) {
        fputs("  ", f);
        fwrite(line, 1, strcspn(line, "\n"), f);
        fputc('\n', f);
    }
}

static void help_command(const struct swh_command *c, FILE *f)
{
    fprintf(f, "swashheat %s: %s.\n\nUsage: swashheat %s %s [options]\n\nOptions\n", c->name, c->help,
            c->name, c->arguments);
    help_options(c, f);
    fprintf(f, "\nExamples\n");
    help_examples(c->examples, f);
}

void swh_help(const struct swh_session *s, FILE *f)
{
    if (s->command) {
        help_command(s->command, f);
        return;
    }
    fprintf(f, "swashheat: the transient heat balance of a swash-plate air-conditioning compressor.\n\n"
               "Usage: swashheat COMMAND ... (swashheat COMMAND --help explains each)\n\n");
    for (int i = 0; i < swh_command_count; i++)
        fprintf(f, "  %-8s %s\n", swh_commands[i].name, swh_commands[i].help);
    fprintf(f, "\nExit status: 0 done; 1 accept judged fail; 2 wrong usage; 3 bad input; 4 the integrator "
               "could not go on;\n"
               "5 a result could not be written; 6 memory was short.\n"
               "swashheat --version says which version this is.\n"
               "It computes; it does not replace the vehicle maker's manual, gauges or licensed practice.\n");
}

/* ---- errors ---- */

static int by_place(const void *a, const void *b)
{
    const struct swh_error *x = a, *y = b;
    const int file = strcmp(x->where, y->where);
    if (file != 0)
        return file;
    if (x->line != y->line)
        return x->line < y->line ? -1 : 1;
    return (x->column > y->column) - (x->column < y->column);
}

/* control characters and odd bytes of a broken file stay out of the terminal */
static void print_clean(const char *s, FILE *f)
{
    char clean[512];
    fputs(swh_utf8_clean(clean, sizeof clean, s), f);
}

static void tell(const struct swh_error *e, FILE *f)
{
    fprintf(f, "swashheat: ");
    print_clean(e->where, f);
    if (e->line > 0)
        fprintf(f, ":%ld", e->line);
    if (e->line > 0 && e->column > 0)
        fprintf(f, ":%ld", e->column);
    fputs(e->where[0] ? ": " : "", f);
    print_clean(e->what, f);
    if (e->expected[0]) {
        fputs(" (expected ", f);
        print_clean(e->expected, f);
        fputc(')', f);
    }
    fputc('\n', f);
}

void swh_tell_problems(struct swh_problems *p, FILE *f)
{
    qsort(p->item, (size_t)p->kept, sizeof p->item[0], by_place);
    for (int i = 0; i < p->kept; i++)
        tell(&p->item[i], f);
    if (p->count > p->kept)
        fprintf(f, "swashheat: and %ld more\n", p->count - p->kept);
}
