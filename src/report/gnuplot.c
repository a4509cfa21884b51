/* Runs gnuplot as a separate program with an argument vector: no shell ever sees a name. */
#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include "fail.h"
#include "report/plot.h"

extern char **environ;

static int spawn_in(const char *folder, char *const *arguments, pid_t *child)
{
    posix_spawn_file_actions_t actions;
    int failed = posix_spawn_file_actions_init(&actions);
    if (failed)
        return failed;
    failed = posix_spawn_file_actions_addchdir_np(&actions, folder);
    if (!failed)
        failed = posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
    if (!failed)
        failed = posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
    if (!failed)
        failed = posix_spawn_file_actions_addopen(&actions, 2, "/dev/null", O_WRONLY, 0);
    if (!failed)
        failed = posix_spawnp(child, arguments[0], &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    return failed;
}

enum lds_status lds_gnuplot_run(const char *folder, const char *command, char *const *script, size_t scripts, bool *ran,
                                int *state, struct lds_error *error)
{
    /* -d: the user's own start-up file must not change the pictures. */
    char gnuplot[] = "gnuplot", defaults[] = "-d", execute[] = "-e", *first = strdup(command);
    char **arguments = calloc(scripts + 5, sizeof *arguments);
    int failed = first && arguments ? 0 : ENOMEM;
    pid_t child = -1, waited;
    *ran = false;
    *state = 0;
    if (!failed) {
        memcpy(arguments, (char *[]){gnuplot, defaults, execute, first}, 4 * sizeof *arguments);
        memcpy(arguments + 4, script, scripts * sizeof *arguments);
        failed = spawn_in(folder, arguments, &child);
    }
    free(arguments);
    free(first);
    if (failed == ENOENT || failed == EACCES)
        return LDS_OK;
    if (failed)
        return lds_fail(error, LDS_IO, "cannot start gnuplot: %s: draw %s by hand later", strerror(failed), script[0]);
    do
        waited = waitpid(child, state, 0);
    while (waited < 0 && errno == EINTR);
    /* Some systems notice only in the child that there is no such program. */
    *ran = !(waited == child && WIFEXITED(*state) && WEXITSTATUS(*state) == 127);
    *state = *ran && waited == child ? *state : 0;
    return LDS_OK;
}
