/* Writes the manual page and the completions of shells from the tables of commands and options:
 * swh_make_manual man|bash|zsh|fish FILE. */
#include "cli/base/session.h"

#include <stdlib.h>
#include <string.h>
#include <swashheat/version.h>

static bool takes(const struct swh_command *c, int option)
{
    return (c->options >> option) & 1u;
}

static bool names_file(const struct swh_option_info *o)
{
    return o->argument && (strcmp(o->argument, "FILE") == 0 || strcmp(o->argument, "DIR") == 0);
}

/* ---- manual page ---- */

/* text as roff takes it: no backslash, hyphen or quote of its own meaning, no line that begins with a dot */
static void put_roff(const char *text, FILE *f)
{
    bool at_start = true;
    for (; *text; text++) {
        if (at_start && (*text == '.' || *text == '\''))
            fputs("\\&", f);
        at_start = *text == '\n';
        if (*text == '\\')
            fputs("\\e", f);
        else if (*text == '-')
            fputs("\\-", f);
        else
            fputc(*text, f);
    }
}

static void man_option(const struct swh_option_info *o, FILE *f)
{
    fputs(".TP\n", f);
    if (o->letter)
        fprintf(f, "\\fB\\-%c\\fR, ", o->letter);
    fputs("\\fB\\-\\-", f);
    put_roff(o->name, f);
    fprintf(f, "\\fR%s", o->argument ? " \\fI" : "");
    if (o->argument) {
        put_roff(o->argument, f);
        fputs("\\fR", f);
    }
    fputc('\n', f);
    put_roff(o->help, f);
    fputs(".\n", f);
}

static void man_command(const struct swh_command *c, FILE *f)
{
    fprintf(f, ".SS \"swashheat %s\"\n", c->name);
    fprintf(f, "\\fBswashheat %s\\fR \\fI", c->name);
    put_roff(c->arguments, f);
    fputs("\\fR [options]\n.PP\n", f);
    put_roff(c->help, f);
    fputs(".\n.PP\nOptions:", f);
    for (int i = 0; i < SWH_OPT_COUNT; i++)
        if (takes(c, i)) {
            fputs(" \\-\\-", f);
            put_roff(swh_option_table[i].name, f);
        }
    fputs(".\n.PP\n.nf\n", f);
    put_roff(c->examples, f);
    fputs(".fi\n", f);
}

static const char man_end[] =
    ".SH EXIT STATUS\n.TP\n0\ndone\n.TP\n1\n\\fBaccept\\fR judged fail\n.TP\n2\nwrong usage\n.TP\n3\nbad "
    "input\n"
    ".TP\n4\nthe integrator could not go on; results up to there are kept\n"
    ".TP\n5\na result could not be written\n"
    ".SH FILES\n.TP\n\\fIresults/NAME\\fR\nresults, unless \\fB\\-\\-out\\fR says otherwise\n"
    ".SH CAUTIONS\nAn air-conditioning system is under high pressure, and has hot and moving parts; its "
    "refrigerant may burn, and is never vented. swashheat computes; it does not replace the vehicle maker's "
    "manual, local codes, gauges or licensed practice.\n";

static void write_man(FILE *f)
{
    fprintf(f, ".TH SWASHHEAT 1 \"\" \"swashheat %s\" \"User Commands\"\n.SH NAME\n", swh_version());
    fputs("swashheat \\- transient heat balance of a swash\\-plate air\\-conditioning compressor\n"
          ".SH SYNOPSIS\n\\fBswashheat\\fR \\fICOMMAND\\fR ...\n"
          ".br\n\\fBswashheat\\fR \\fB\\-\\-version\\fR\n.SH COMMANDS\n",
          f);
    for (int i = 0; i < swh_command_count; i++)
        man_command(&swh_commands[i], f);
    fputs(".SH OPTIONS\n", f);
    for (int i = 0; i < SWH_OPT_COUNT; i++)
        man_option(&swh_option_table[i], f);
    fputs(man_end, f);
}

/* ---- completions ---- */

static void put_words(const char *words, FILE *f)
{
    for (; *words; words++)
        fputc(*words == '|' ? ' ' : *words, f);
}

static void put_names(unsigned long long options, FILE *f)
{
    for (int i = 0; i < SWH_OPT_COUNT; i++) {
        if (!(options >> i & 1u))
            continue;
        fprintf(f, " --%s", swh_option_table[i].name);
        if (swh_option_table[i].letter)
            fprintf(f, " -%c", swh_option_table[i].letter);
    }
}

static void write_bash(FILE *f)
{
    fputs("# completion of swashheat for bash\n_swashheat()\n{\n"
          "    local now=\"${COMP_WORDS[COMP_CWORD]}\" before=\"${COMP_WORDS[COMP_CWORD-1]}\"\n"
          "    case \"$before\" in\n",
          f);
    for (int i = 0; i < SWH_OPT_COUNT; i++) {
        if (!swh_option_table[i].words)
            continue;
        fprintf(f, "    --%s) COMPREPLY=($(compgen -W \"", swh_option_table[i].name);
        put_words(swh_option_table[i].words, f);
        fputs("\" -- \"$now\")); return ;;\n", f);
    }
    fputs("    esac\n    if [ \"$COMP_CWORD\" -eq 1 ]; then\n        COMPREPLY=($(compgen -W \"", f);
    for (int i = 0; i < swh_command_count; i++)
        fprintf(f, "%s ", swh_commands[i].name);
    fputs("--help --version\" -- \"$now\"))\n        return\n    fi\n"
          "    case \"$now\" in -*) ;; *) COMPREPLY=($(compgen -f -- \"$now\")); return ;; esac\n"
          "    case \"${COMP_WORDS[1]}\" in\n",
          f);
    for (int i = 0; i < swh_command_count; i++) {
        fprintf(f, "    %s) COMPREPLY=($(compgen -W \"", swh_commands[i].name);
        put_names(swh_commands[i].options, f);
        fputs("\" -- \"$now\")) ;;\n", f);
    }
    fputs("    esac\n}\ncomplete -o filenames -F _swashheat swashheat\n", f);
}

/* a line of help inside zsh's '...[help]...' or fish's '...' */
static void put_quoted(const char *text, FILE *f)
{
    for (; *text; text++) {
        if (*text == '\'')
            fputs("'\\''", f);
        else if (*text == '[' || *text == ']' || *text == ':')
            fputc(' ', f);
        else
            fputc(*text, f);
    }
}

static void zsh_option(const struct swh_option_info *o, FILE *f)
{
    fprintf(f, " \\\n            '*--%s[", o->name);
    put_quoted(o->help, f);
    fputc(']', f);
    if (o->words) {
        fputs(":word:(", f);
        put_words(o->words, f);
        fputc(')', f);
    } else if (o->argument) {
        fputs(names_file(o) ? ":file:_files" : ":value: ", f);
    }
    fputc('\'', f);
}

static void write_zsh(FILE *f)
{
    fputs("#compdef swashheat\nlocal -a commands\ncommands=(\n", f);
    for (int i = 0; i < swh_command_count; i++) {
        fprintf(f, "    '%s:", swh_commands[i].name);
        put_quoted(swh_commands[i].help, f);
        fputs("'\n", f);
    }
    fputs(
        ")\nif (( CURRENT == 2 )); then\n    _describe command commands\nelse\n    local command=$words[2]\n"
        "    shift words; (( CURRENT-- ))\n    case $command in\n",
        f);
    for (int i = 0; i < swh_command_count; i++) {
        fprintf(f, "        %s) _arguments", swh_commands[i].name);
        for (int k = 0; k < SWH_OPT_COUNT; k++)
            if (takes(&swh_commands[i], k))
                zsh_option(&swh_option_table[k], f);
        fputs(" \\\n            '*:file:_files' ;;\n", f);
    }
    fputs("    esac\nfi\n", f);
}

static void fish_option(const struct swh_command *c, const struct swh_option_info *o, FILE *f)
{
    fprintf(f, "complete -c swashheat -n '__fish_seen_subcommand_from %s' -l %s", c->name, o->name);
    if (o->letter)
        fprintf(f, " -s %c", o->letter);
    if (o->argument)
        fputs(" -r", f);
    if (o->words) {
        fputs(" -fa '", f);
        put_words(o->words, f);
        fputc('\'', f);
    }
    fputs(" -d '", f);
    put_quoted(o->help, f);
    fputs("'\n", f);
}

static void write_fish(FILE *f)
{
    fputs("# completion of swashheat for fish\n", f);
    for (int i = 0; i < swh_command_count; i++) {
        const struct swh_command *c = &swh_commands[i];
        fprintf(f, "complete -c swashheat -n __fish_use_subcommand -fa %s -d '", c->name);
        put_quoted(c->help, f);
        fputs("'\n", f);
        for (int k = 0; k < SWH_OPT_COUNT; k++)
            if (takes(c, k))
                fish_option(c, &swh_option_table[k], f);
    }
}

int main(int argc, char **argv)
{
    static const struct {
        const char *name;
        void (*write)(FILE *f);
    } kinds[] = {{"man", write_man}, {"bash", write_bash}, {"zsh", write_zsh}, {"fish", write_fish}};
    for (size_t i = 0; argc == 3 && i < sizeof kinds / sizeof kinds[0]; i++) {
        if (strcmp(argv[1], kinds[i].name) != 0)
            continue;
        FILE *f = fopen(argv[2], "w");
        if (!f)
            return EXIT_FAILURE;
        kinds[i].write(f);
        return fclose(f) == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
    }
    fputs("usage: swh_make_manual man|bash|zsh|fish FILE\n", stderr);
    return EXIT_FAILURE;
}
