/* Runs gnuplot as a separate program with an argument vector: no shell ever sees a name. */
#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <string.h>
#include <sys/wait.h>

#include "fail.h"
#include "report/plot.h"

extern char **environ;

static int spawn_in(const char *folder, const char *script, pid_t *child)
{
    posix_spawn_file_actions_t actions;
    int failed = posix_spawn_file_actions_init(&actions);
    if (failed)
        return failed;
    /* -d: the user's own start-up file must not change the pictures. */
    char gnuplot[] = "gnuplot", defaults[] = "-d";
    char name[512];
    int length = snprintf(name, sizeof name, "%s", script);
    char *arguments[] = {gnuplot, defaults, name, NULL};
    failed = length < 0 || (size_t)length >= sizeof name ? ENAMETOOLONG : 0;
    if (!failed)
        failed = posix_spawn_file_actions_addchdir_np(&actions, folder);
    if (!failed)
        failed = posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
    if (!failed)
        failed = posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
    if (!failed)
        failed = posix_spawn_file_actions_addopen(&actions, 2, "/dev/null", O_WRONLY, 0);
    if (!failed)
        failed = posix_spawnp(child, gnuplot, &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    return failed;
}

enum lds_status lds_gnuplot_run(const char *folder, const char *script, bool *ran, struct lds_error *error)
{
    *ran = false;
    pid_t child;
    int failed = spawn_in(folder, script, &child);
    if (failed == ENOENT || failed == EACCES)
        return LDS_OK;
    if (failed)
        return lds_fail(error, LDS_IO, "cannot start gnuplot: %s: draw %s by hand later", strerror(failed), script);
    int state = 0;
    pid_t waited;
    do
        waited = waitpid(child, &state, 0);
    while (waited < 0 && errno == EINTR);
    if (waited == child && WIFEXITED(state) && WEXITSTATUS(state) == 127)
        return LDS_OK; /* some systems notice only in the child that there is no such program */
    if (waited == child && !(WIFEXITED(state) && WEXITSTATUS(state) == 0))
        return lds_fail(error, LDS_IO,
                        "gnuplot failed on %s (%s %d): see whether \"gnuplot --version\" works, and mend or remove it",
                        script, WIFSIGNALED(state) ? "signal" : "exit status",
                        WIFSIGNALED(state) ? WTERMSIG(state) : WEXITSTATUS(state));
    *ran = true;
    return LDS_OK;
}
