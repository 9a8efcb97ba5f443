/* Preloaded before a program: lets the N-th call of one kind fail, as a system does that is short of
 * something.
 *
 * SWH_FAIL   alloc, open, write, flush, sync, rename, thread, process, stream or none
 * SWH_AT     N, from 1: that call fails; with SWH_ON=1 it and all later ones
 * SWH_SITES  file that gets a line "kind N path" for each call, where path is a hash of the places it was
 * called from SWH_REPORT file that gets "calls N failed M live L" when the program ends: calls of that kind,
 * failures, allocations of the program's own code that it did not give back Only calls of the program's own
 * code count (its main object), not those inside libraries, but for a thread or process made anywhere. */
#define _GNU_SOURCE
#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <link.h>
#include <pthread.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* the code whose calls count */
enum { RANGES = 32 };
static struct {
    uintptr_t begin, end;
} range[RANGES];
static int ranges;
static const char *kind = "none";
static long at, on;
static atomic_long failed;
static int sites = -1;

/* the first object is the program; libudunits2 and libexpat are not made for this */
static int find_code(struct dl_phdr_info *info, size_t size, void *user)
{
    (void)size;
    int *first = user;
    const char *name = info->dlpi_name;
    const int counts = *first || strstr(name, "sundials") || strstr(name, "jansson") ||
                       strstr(name, "libini") || strstr(name, "libcsv") || strstr(name, "cminpack");
    *first = 0;
    for (int i = 0; counts && i < info->dlpi_phnum && ranges < RANGES; i++) {
        const ElfW(Phdr) *p = &info->dlpi_phdr[i];
        if (p->p_type != PT_LOAD || !(p->p_flags & PF_X))
            continue;
        range[ranges].begin = info->dlpi_addr + p->p_vaddr;
        range[ranges].end = range[ranges].begin + p->p_memsz;
        ranges++;
    }
    return 0;
}

__attribute__((constructor)) static void start(void)
{
    int first = 1;
    dl_iterate_phdr(find_code, &first);
    const char *k = getenv("SWH_FAIL"), *n = getenv("SWH_AT"), *o = getenv("SWH_ON");
    unsetenv("LD_PRELOAD"); /* what the program starts is not meant */
    if (getenv("SWH_SITES")) {
        void *first_time[2];
        backtrace(first_time, 2); /* allocates when it is called first */
        sites = open(getenv("SWH_SITES"), O_WRONLY | O_CREAT | O_TRUNC | O_APPEND | O_CLOEXEC, 0600);
    }
    kind = k ? k : "none";
    at = n ? strtol(n, NULL, 10) : 0;
    on = o ? strtol(o, NULL, 10) : 0;
}

#define OURS is_ours(__builtin_return_address(0))
#define REAL(name)                                                                                           \
    (real_##name ? real_##name : (real_##name = (__typeof__(real_##name))dlsym(RTLD_NEXT, #name)))

/* One line for a call, with the places it came from: what fails at one of them fails alike the next time. */
static _Thread_local int noting;
static ssize_t (*real_write)(int, const void *, size_t);
static void note_site(const char *what, long n)
{
    enum { DEEPEST = 7 };
    void *place[DEEPEST];
    char line[80];
    uint64_t path = 0;
    noting = 1;
    const int depth = backtrace(place, DEEPEST);
    for (int i = 2; i < depth; i++)
        path = (path ^ (uintptr_t)place[i]) * 0x9e3779b97f4a7c15u;
    const int length = snprintf(line, sizeof line, "%s %ld %016llx\n", what, n, (unsigned long long)path);
    if (REAL(write)(sites, line, (size_t)length) != length)
        abort();
    noting = 0;
}

static int is_ours(const void *caller)
{
    for (int i = 0; i < ranges; i++)
        if ((uintptr_t)caller >= range[i].begin && (uintptr_t)caller < range[i].end)
            return 1;
    return 0;
}

/* SUNDIALS 6.4 crashes where its logger gets no memory (SUNLogger_Create goes on with what it did not get):
 * two small allocations when a context is made, which nobody but SUNDIALS can mend. */
static _Thread_local int spared;
static int (*real_SUNContext_Create)(void *, void **);
int SUNContext_Create(void *communicator, void **context);

static const char *const kinds[] = {"alloc", "stream", "open",   "write",  "flush",
                                    "sync",  "rename", "thread", "process"};
enum { KINDS = sizeof kinds / sizeof kinds[0] };
static atomic_long calls[KINDS];

/* counts a call; true if it is to fail */
static int fails(const char *what)
{
    int k = 0;
    while (k < KINDS && strcmp(kinds[k], what) != 0)
        k++;
    if (k == KINDS || spared || noting)
        return 0;
    const long n = atomic_fetch_add(&calls[k], 1) + 1;
    if (sites >= 0)
        note_site(what, n);
    const int now = strcmp(kind, what) == 0 && at > 0 && (n == at || (on && n > at));
    if (now)
        atomic_fetch_add(&failed, 1);
    return now;
}

int SUNContext_Create(void *communicator, void **context)
{
    spared = 1;
    const int done = REAL(SUNContext_Create)(communicator, context);
    spared = 0;
    return done;
}

/* ---- allocations of the program, to see what is lost ---- */

enum { SLOTS = 1 << 20 };
static _Atomic(uintptr_t) slot[SLOTS];
static atomic_long live;

static void keep(void *p)
{
    for (size_t i = ((uintptr_t)p >> 4) % SLOTS, k = 0; p && k < SLOTS; i = (i + 1) % SLOTS, k++) {
        uintptr_t none = 0;
        if (atomic_load(&slot[i]) <= 1 && ((none = atomic_load(&slot[i])), none <= 1) &&
            atomic_compare_exchange_strong(&slot[i], &none, (uintptr_t)p)) {
            atomic_fetch_add(&live, 1);
            return;
        }
    }
}

static void drop(const void *p)
{
    for (size_t i = ((uintptr_t)p >> 4) % SLOTS, k = 0; p && k < SLOTS; i = (i + 1) % SLOTS, k++) {
        uintptr_t is = atomic_load(&slot[i]);
        if (is == 0)
            return;
        if (is == (uintptr_t)p) {
            atomic_store(&slot[i], 1); /* was used: a search goes on past it */
            atomic_fetch_sub(&live, 1);
            return;
        }
    }
}

void *__libc_malloc(size_t n);
void *__libc_calloc(size_t k, size_t n);
void *__libc_realloc(void *p, size_t n);
void __libc_free(void *p);

void *malloc(size_t n)
{
    if (!OURS)
        return __libc_malloc(n);
    if (fails("alloc")) {
        errno = ENOMEM;
        return NULL;
    }
    void *p = __libc_malloc(n);
    keep(p);
    return p;
}

void *calloc(size_t k, size_t n)
{
    if (!OURS)
        return __libc_calloc(k, n);
    if (fails("alloc")) {
        errno = ENOMEM;
        return NULL;
    }
    void *p = __libc_calloc(k, n);
    keep(p);
    return p;
}

void *realloc(void *p, size_t n)
{
    if (!OURS) {
        drop(p);
        return __libc_realloc(p, n);
    }
    if (fails("alloc")) {
        errno = ENOMEM;
        return NULL;
    }
    drop(p);
    void *q = __libc_realloc(p, n);
    keep(q);
    return q;
}

void free(void *p)
{
    drop(p);
    __libc_free(p);
}

/* ---- files ---- */

static int (*real_open)(const char *, int, ...);
int open(const char *path, int flags, ...)
{
    mode_t mode = 0;
    if (flags & O_CREAT) {
        va_list ap;
        va_start(ap, flags);
        mode = va_arg(ap, mode_t);
        va_end(ap);
    }
    if (OURS && fails("open")) {
        errno = EMFILE;
        return -1;
    }
    return REAL(open)(path, flags, mode);
}

static FILE *(*real_fopen)(const char *, const char *);
FILE *fopen(const char *path, const char *mode)
{
    if (OURS && fails("open")) {
        errno = EMFILE;
        return NULL;
    }
    return REAL(fopen)(path, mode);
}

static FILE *(*real_fdopen)(int, const char *);
FILE *fdopen(int fd, const char *mode)
{
    if (OURS && fails("open")) {
        errno = ENOMEM;
        return NULL;
    }
    return REAL(fdopen)(fd, mode);
}

static DIR *(*real_opendir)(const char *);
DIR *opendir(const char *path)
{
    if (OURS && fails("open")) {
        errno = EMFILE;
        return NULL;
    }
    return REAL(opendir)(path);
}

static int (*real_mkdir)(const char *, mode_t);
int mkdir(const char *path, mode_t mode)
{
    if (OURS && fails("open")) {
        errno = ENOSPC;
        return -1;
    }
    return REAL(mkdir)(path, mode);
}

static FILE *(*real_open_memstream)(char **, size_t *);
FILE *open_memstream(char **text, size_t *size)
{
    if (OURS && fails("stream")) {
        errno = ENOMEM;
        return NULL;
    }
    return REAL(open_memstream)(text, size);
}

ssize_t write(int fd, const void *data, size_t n)
{
    if (OURS && fails("write")) {
        errno = ENOSPC;
        return -1;
    }
    return REAL(write)(fd, data, n);
}

static void spoil(FILE *f)
{
    f->_flags |= 0x20; /* glibc: _IO_ERR_SEEN, what ferror looks at */
    errno = ENOSPC;
}

static size_t (*real_fwrite)(const void *, size_t, size_t, FILE *);
size_t fwrite(const void *data, size_t size, size_t n, FILE *f)
{
    if (OURS && fails("write")) {
        spoil(f);
        return 0;
    }
    return REAL(fwrite)(data, size, n, f);
}

int fprintf(FILE *f, const char *format, ...)
{
    if (OURS && fails("write")) {
        spoil(f);
        return -1;
    }
    va_list ap;
    va_start(ap, format);
    const int n = vfprintf(f, format, ap);
    va_end(ap);
    return n;
}

static int (*real_fputs)(const char *, FILE *);
int fputs(const char *s, FILE *f)
{
    if (OURS && fails("write")) {
        spoil(f);
        return EOF;
    }
    return REAL(fputs)(s, f);
}

static int (*real_fflush)(FILE *);
int fflush(FILE *f)
{
    if (OURS && fails("flush")) {
        errno = ENOSPC;
        return EOF;
    }
    return REAL(fflush)(f);
}

static int (*real_fclose)(FILE *);
int fclose(FILE *f)
{
    const int fail = OURS && fails("flush");
    const int done = REAL(fclose)(f);
    if (fail)
        errno = ENOSPC;
    return fail ? EOF : done;
}

static int (*real_fsync)(int);
int fsync(int fd)
{
    if (OURS && fails("sync")) {
        errno = EIO;
        return -1;
    }
    return REAL(fsync)(fd);
}

static int (*real_rename)(const char *, const char *);
int rename(const char *from, const char *to)
{
    if (OURS && fails("rename")) {
        errno = EACCES;
        return -1;
    }
    return REAL(rename)(from, to);
}

static int (*real_link)(const char *, const char *);
int link(const char *from, const char *to)
{
    if (OURS && fails("rename")) {
        errno = EPERM;
        return -1;
    }
    return REAL(link)(from, to);
}

/* ---- threads and processes ---- */

static int (*real_pthread_create)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *);
int pthread_create(pthread_t *t, const pthread_attr_t *a, void *(*f)(void *), void *user)
{
    return fails("thread") ? EAGAIN : REAL(pthread_create)(t, a, f, user);
}

static int (*real_posix_spawnp)(pid_t *, const char *, const posix_spawn_file_actions_t *,
                                const posix_spawnattr_t *, char *const *, char *const *);
int posix_spawnp(pid_t *pid, const char *file, const posix_spawn_file_actions_t *actions,
                 const posix_spawnattr_t *attributes, char *const *arguments, char *const *environment)
{
    return fails("process") ? EAGAIN
                            : REAL(posix_spawnp)(pid, file, actions, attributes, arguments, environment);
}

static int (*real_socketpair)(int, int, int, int *);
int socketpair(int domain, int type, int protocol, int *fd)
{
    if (OURS && fails("process")) {
        errno = EMFILE;
        return -1;
    }
    return REAL(socketpair)(domain, type, protocol, fd);
}

__attribute__((destructor)) static void report(void)
{
    const char *path = getenv("SWH_REPORT");
    char text[400];
    if (!path)
        return;
    int n = snprintf(text, sizeof text, "failed %ld live %ld", atomic_load(&failed), atomic_load(&live));
    for (int k = 0; k < KINDS; k++)
        n += snprintf(text + n, sizeof text - (size_t)n, " %s %ld", kinds[k], atomic_load(&calls[k]));
    const int fd = REAL(open)(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (fd >= 0) {
        (void)!REAL(write)(fd, text, (size_t)n);
        close(fd);
    }
}
