/* The table of roles, for the library itself; see struct lds_role. */
#ifndef LDS_JOB_ROLES_H
#define LDS_JOB_ROLES_H

#include "loadside/job.h"

/* For a capture whose section states no role, or an unknown one: a row without name, not in the table. */
extern const struct lds_role lds_role_unknown;

/* The role that stands for that signal; lds_role_unknown: none. */
const struct lds_role *lds_role_leading(enum lds_signal_kind kind);

/* Names of the roles for which something holds (NULL: all), as "idle, sine or chain". */
void lds_roles_list(bool (*which)(const struct lds_role *role), char *text, size_t size);

#endif
