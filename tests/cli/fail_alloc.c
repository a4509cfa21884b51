/* Loaded before the program (LD_PRELOAD); counts its requests for memory after main has begun, and refuses one request,
 * or one and all after it: FAIL_ALLOC=N      the N-th request fails FAIL_ALLOC_ON=1   so do all after it
 * FAIL_ALLOC_TRACE=FILE   a line for each request: a number that is the same for requests made along the same call path
 * Children of the program (gnuplot) are left alone. */
#include <dlfcn.h>
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The C library's own functions, reached without a look-up that would itself request memory. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);
extern void *__libc_memalign(size_t alignment, size_t size);

enum { FRAMES = 6 };

static atomic_bool counting;
static atomic_ulong requests;
static unsigned long refused; /* 0: none */
static bool all_after;
static int trace = -1;
static _Thread_local bool inside;

/* The name of the file that contains the code at this address. */
static const char *owner(void *place)
{
    Dl_info info;
    if (dladdr(place, &info) == 0 || !info.dli_fname)
        return "?";
    const char *slash = strrchr(info.dli_fname, '/');
    return slash ? slash + 1 : info.dli_fname;
}

static void note(void *asker)
{
    void *frame[FRAMES];
    char line[160];
    inside = true;
    int frames = backtrace(frame, FRAMES);
    inside = false;
    uint64_t sum = UINT64_C(14695981039346656037); /* FNV-1a, from memory */
    for (int i = 2; i < frames; i++)
        sum = (sum ^ (uint64_t)(uintptr_t)frame[i]) * UINT64_C(1099511628211);
    int length = snprintf(line, sizeof line, "%016llx %.100s\n", (unsigned long long)sum, owner(asker));
    if (write(trace, line, (size_t)length) != length)
        _exit(99);
}

/* Whether this request is to be refused. */
static bool refuse(void *asker)
{
    if (!atomic_load(&counting) || inside)
        return false;
    unsigned long number = atomic_fetch_add(&requests, 1) + 1;
    if (trace >= 0)
        note(asker);
    bool no = refused > 0 && (number == refused || (all_after && number > refused));
    if (no)
        errno = ENOMEM;
    return no;
}

void *malloc(size_t size);
void *calloc(size_t count, size_t size);
void *realloc(void *old, size_t size);
void *reallocarray(void *old, size_t count, size_t size);
void *memalign(size_t alignment, size_t size);
void *aligned_alloc(size_t alignment, size_t size);
int posix_memalign(void **place, size_t alignment, size_t size);

void *malloc(size_t size)
{
    return refuse(__builtin_return_address(0)) ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    return refuse(__builtin_return_address(0)) ? NULL : __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    return refuse(__builtin_return_address(0)) ? NULL : __libc_realloc(old, size);
}

void *reallocarray(void *old, size_t count, size_t size)
{
    size_t bytes;
    if (__builtin_mul_overflow(count, size, &bytes)) {
        errno = ENOMEM;
        return NULL;
    }
    return realloc(old, bytes);
}

void *memalign(size_t alignment, size_t size)
{
    return refuse(__builtin_return_address(0)) ? NULL : __libc_memalign(alignment, size);
}

void *aligned_alloc(size_t alignment, size_t size)
{
    return memalign(alignment, size);
}

int posix_memalign(void **place, size_t alignment, size_t size)
{
    void *got = memalign(alignment, size);
    if (got)
        *place = got;
    return got ? 0 : ENOMEM;
}

typedef int main_function(int argc, char **argv, char **environment);
typedef int start_function(main_function *run, int argc, char **argv, void (*init)(void), void (*fini)(void),
                           void (*loader_fini)(void), void *stack_end);

static main_function *real_main;

static int counted_main(int argc, char **argv, char **environment)
{
    const char *number = getenv("FAIL_ALLOC"), *on = getenv("FAIL_ALLOC_ON"), *file = getenv("FAIL_ALLOC_TRACE");
    void *warm[FRAMES];
    refused = number ? strtoul(number, NULL, 10) : 0;
    all_after = on != NULL;
    if (file) {
        trace = open(file, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
        (void)backtrace(warm, FRAMES); /* loads what it needs */
    }
    unsetenv("LD_PRELOAD");
    atomic_store(&counting, true);
    return real_main(argc, argv, environment);
}

int __libc_start_main(main_function *run, int argc, char **argv, void (*init)(void), void (*fini)(void),
                      void (*loader_fini)(void), void *stack_end);
int __libc_start_main(main_function *run, int argc, char **argv, void (*init)(void), void (*fini)(void),
                      void (*loader_fini)(void), void *stack_end)
{
    start_function *start = (start_function *)(uintptr_t)dlsym(RTLD_NEXT, "__libc_start_main");
    real_main = run;
    return start(counted_main, argc, argv, init, fini, loader_fini, stack_end);
}
