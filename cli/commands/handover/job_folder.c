#include "cli/commands/handover/job_folder.h"

#include "cli/base/json_file.h"
#include "cli/commands/handover/html.h"
#include "solver/files/ini.h"
#include "solver/files/suggest.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { DEPTH_MAX = 8, PAPERS_MAX = 4000 };

/* ---- lists that grow ---- */

static bool grow(void **items, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return true;
    const size_t more = *room ? 2 * *room : 32;
    void *moved = realloc(*items, more * size);
    if (!moved)
        return false;
    *items = moved;
    *room = more;
    return true;
}

static struct swh_repair_paper *add_paper(struct swh_repair_folder *j, const char *path)
{
    void *items = j->paper;
    if (!grow(&items, j->papers, &j->paper_room, sizeof *j->paper))
        return NULL;
    j->paper = items;
    struct swh_repair_paper *p = &j->paper[j->papers++];
    memset(p, 0, sizeof *p);
    snprintf(p->path, sizeof p->path, "%s", path);
    return p;
}

/* ---- the files ---- */

static void no_memory(struct swh_problems *problems, const char *path)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_MEMORY, "no memory for a report");
    swh_error_at(&err, path, 0, 0);
    swh_problems_add(problems, &err);
}

static void unread(struct swh_problems *problems, const char *path, const char *why)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "%s", why);
    swh_error_expected(&err, "a folder whose files can all be read, so that none is missing in the report");
    swh_error_at(&err, path, 0, 0);
    swh_problems_add(problems, &err);
}

static void collect(struct swh_repair_folder *j, const char *folder, int depth,
                    struct swh_problems *problems);

static void collect_one(struct swh_repair_folder *j, const char *path, int depth,
                        struct swh_problems *problems)
{
    struct stat st;
    if (stat(path, &st) != 0)
        unread(problems, path, "cannot be read");
    else if (S_ISDIR(st.st_mode) && depth == DEPTH_MAX)
        unread(problems, path, "folders lie too deep in each other");
    else if (S_ISDIR(st.st_mode))
        collect(j, path, depth + 1, problems);
    else if (S_ISREG(st.st_mode) && !add_paper(j, path))
        no_memory(problems, path);
    else if (j->papers > PAPERS_MAX)
        unread(problems, path, "more files than a job can have: this is the 4001st");
}

static void collect(struct swh_repair_folder *j, const char *folder, int depth, struct swh_problems *problems)
{
    DIR *d = opendir(folder);
    if (!d) {
        unread(problems, folder, "this folder cannot be read");
        return;
    }
    for (struct dirent *e = readdir(d); e && j->papers <= PAPERS_MAX; e = readdir(d)) {
        char path[sizeof j->paper->path];
        if (e->d_name[0] == '.' || strcmp(e->d_name, "report.html") == 0)
            continue;
        if (snprintf(path, sizeof path, "%s/%s", folder, e->d_name) >= (int)sizeof path)
            unread(problems, folder, "a name in this folder is too long");
        else
            collect_one(j, path, depth, problems);
    }
    closedir(d);
}

static int by_name(const void *a, const void *b)
{
    const struct swh_repair_paper *x = a, *y = b;
    return strcmp(x->path, y->path);
}

/* ---- what they are ---- */

static bool ends(const char *name, const char *ending)
{
    const size_t n = strlen(name), k = strlen(ending);
    return n >= k && strcmp(name + n - k, ending) == 0;
}

/* a copy of an input that a command keeps beside its results */
static bool is_copy(const char *base)
{
    return strncmp(base, "input-", 6) == 0;
}

static bool has_findings(const char *path)
{
    char line[256];
    bool found = false;
    FILE *f = fopen(path, "r");
    while (f && !found && fgets(line, sizeof line, f))
        found = strncmp(line, "[findings]", 10) == 0;
    if (f)
        fclose(f);
    return found;
}

static enum swh_paper kind_of_json(struct swh_repair_paper *p, const char *base)
{
    struct swh_error why = {0};
    p->json = swh_json_read(p->path, &why);
    if (!p->json || !json_is_object(p->json)) {
        snprintf(p->problem, sizeof p->problem, "%.180s", p->json ? "no JSON object" : why.what);
        return SWH_PAPER_BROKEN;
    }
    if (strcmp(base, "provenance.json") == 0)
        return SWH_PAPER_PROVENANCE;
    if (json_is_array(json_object_get(p->json, "ranking")))
        return SWH_PAPER_RANK;
    if (json_is_boolean(json_object_get(p->json, "pass")))
        return SWH_PAPER_ACCEPT;
    return json_is_string(json_object_get(p->json, "outcome")) &&
                   json_is_object(json_object_get(p->json, "peak"))
               ? SWH_PAPER_RUN
               : SWH_PAPER_RESULT;
}

static enum swh_paper kind_of_table(const char *base)
{
    static const char *const written[] = {"series.csv",   "events.csv",  "sweep.csv",
                                          "ensemble.csv", "expect.csv",  "sheet.csv",
                                          "cases.csv",    "members.csv", "case-schedule.csv"};
    for (size_t i = 0; i < sizeof written / sizeof written[0]; i++)
        if (strcmp(base, written[i]) == 0)
            return SWH_PAPER_SERIES;
    return is_copy(base) ? SWH_PAPER_SERIES : SWH_PAPER_READINGS;
}

static enum swh_paper kind_of(struct swh_repair_paper *p)
{
    const char *base = p->name + p->folder + (p->folder > 0);
    if (strcmp(p->name, "job.ini") == 0)
        return SWH_PAPER_JOB;
    if (ends(base, ".ini"))
        return has_findings(p->path) && !is_copy(base) ? SWH_PAPER_FINDINGS : SWH_PAPER_SETTINGS;
    if (ends(base, ".json"))
        return kind_of_json(p, base);
    if (ends(base, ".csv"))
        return kind_of_table(base);
    return swh_image_type(p->path) ? SWH_PAPER_PICTURE : SWH_PAPER_OTHER;
}

static void look_at(struct swh_repair_folder *j)
{
    if (j->papers > 0)
        qsort(j->paper, j->papers, sizeof *j->paper, by_name);
    for (size_t i = 0; i < j->papers; i++) {
        struct swh_repair_paper *p = &j->paper[i];
        p->name = p->path + strlen(j->root) + 1;
        const char *slash = strrchr(p->name, '/');
        p->folder = slash ? (size_t)(slash - p->name) : 0;
        p->kind = kind_of(p);
        j->has_job |= p->kind == SWH_PAPER_JOB;
    }
}

/* ---- job.ini ---- */

struct reader {
    struct swh_repair_folder *j;
    struct swh_problems *problems;
};

static void take_head(const struct swh_ini_entry *e, struct swh_problems *problems)
{
    static const char *const known[] = {"job", "found", "done", "photos", "readings", "watch"};
    struct swh_nearest nearest = {e->section, NULL, 0};
    struct swh_error err = {0};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strcmp(known[i], e->section) == 0)
            return;
        swh_nearest_offer(&nearest, known[i]);
    }
    swh_error_set(&err, SWH_ERR_INPUT, "unknown section [%s] of a job", e->section);
    swh_error_expected(&err, "[job], [found], [done], [photos], [readings] or [watch]; the nearest is [%s]",
                       nearest.best);
    swh_error_at(&err, e->file, e->line, e->column);
    swh_problems_add(problems, &err);
}

static void take_entry(const struct swh_ini_entry *e, void *user)
{
    const struct reader *r = user;
    struct swh_repair_folder *j = r->j;
    if (!e->key) {
        take_head(e, r->problems);
        return;
    }
    void *items = j->entry;
    if (!grow(&items, j->entries, &j->entry_room, sizeof *j->entry)) {
        no_memory(r->problems, e->file);
        return;
    }
    j->entry = items;
    struct swh_repair_entry *n = &j->entry[j->entries++];
    snprintf(n->section, sizeof n->section, "%s", e->section);
    snprintf(n->key, sizeof n->key, "%s", e->key);
    snprintf(n->value, sizeof n->value, "%s", e->value);
}

enum swh_status swh_repair_folder_read(struct swh_repair_folder *j, const char *root,
                                       struct swh_problems *problems)
{
    memset(j, 0, sizeof *j);
    snprintf(j->root, sizeof j->root, "%s", root);
    for (size_t n = strlen(j->root); n > 1 && j->root[n - 1] == '/'; n--)
        j->root[n - 1] = '\0';
    collect(j, j->root, 0, problems);
    look_at(j);
    struct reader r = {j, problems};
    const struct swh_repair_paper *job = swh_repair_paper_named(j, "job.ini");
    if (job)
        swh_ini_read(job->path, take_entry, &r, problems);
    for (size_t i = 0; i < j->entries; i++) {
        struct swh_repair_paper *photo = swh_repair_paper_named(j, j->entry[i].key);
        if (photo && strcmp(j->entry[i].section, "photos") == 0)
            photo->photo = true;
    }
    return swh_problems_status(problems);
}

void swh_repair_folder_free(struct swh_repair_folder *j)
{
    for (size_t i = 0; i < j->papers; i++)
        json_decref(j->paper[i].json);
    free(j->paper);
    free(j->entry);
}

/* ---- looking up ---- */

const char *swh_repair_value(const struct swh_repair_folder *j, const char *section, const char *key)
{
    for (size_t i = 0; i < j->entries; i++)
        if (strcmp(j->entry[i].section, section) == 0 && strcmp(j->entry[i].key, key) == 0)
            return j->entry[i].value[0] ? j->entry[i].value : NULL;
    return NULL;
}

size_t swh_repair_section_size(const struct swh_repair_folder *j, const char *section)
{
    size_t n = 0;
    for (size_t i = 0; i < j->entries; i++)
        n += strcmp(j->entry[i].section, section) == 0;
    return n;
}

const struct swh_repair_paper *swh_repair_first(const struct swh_repair_folder *j, enum swh_paper kind)
{
    for (size_t i = 0; i < j->papers; i++)
        if (j->paper[i].kind == kind)
            return &j->paper[i];
    return NULL;
}

size_t swh_repair_count(const struct swh_repair_folder *j, enum swh_paper kind)
{
    size_t n = 0;
    for (size_t i = 0; i < j->papers; i++)
        n += j->paper[i].kind == kind;
    return n;
}

struct swh_repair_paper *swh_repair_paper_named(const struct swh_repair_folder *j, const char *name)
{
    for (size_t i = 0; i < j->papers; i++)
        if (strcmp(j->paper[i].name, name) == 0)
            return &j->paper[i];
    return NULL;
}

bool swh_repair_together(const struct swh_repair_paper *a, const struct swh_repair_paper *b)
{
    return a->folder == b->folder && strncmp(a->name, b->name, a->folder) == 0;
}
