/* The possible roles of a capture in a job. A new role needs only a row here: sheets, checks, measurements, reports and
 * the ledger use the row, never the name of a role. */
#include <string.h>

#include "ini_key.h"
#include "job/roles.h"

static const struct lds_role roles[] = {
    {.name = "idle",
     .holds = LDS_SIGNAL_SILENCE,
     .leads = true,
     .without = "No idle capture (role = idle): noise and hum are those beside a tone.",
     .note = "output idle, input of the unit shorted",
     .play = "Play nothing: output idle, input of the unit shorted."},
    {.name = "sine",
     .holds = LDS_SIGNAL_SINE,
     .leads = true,
     .tone = true,
     .power = true,
     .without = "No capture of a sine (role = sine): there is no distortion and no power.",
     .note = "state its power here"},
    {.name = "sweep",
     .holds = LDS_SIGNAL_SWEEP,
     .leads = true,
     .power = true,
     .note = "the sweep that loadside signal makes; signal = names the file beside it"},
    {.name = "noise", .holds = LDS_SIGNAL_NOISE, .leads = true},
    {.name = "staircase", .holds = LDS_SIGNAL_STAIRCASE, .leads = true, .power = true},
    {.name = "power-on", .holds = LDS_SIGNAL_POWER_ON, .leads = true},
    {.name = "chain",
     .holds = LDS_SIGNAL_NONE,
     .chain = true,
     .without = "No recording of the capture chain (role = chain): how much of noise and distortion is its own will "
                "not be known.",
     .note = "the recorder alone: its input shorted, or the generator straight into it",
     .play = "Record the recorder alone: its input shorted, or the generator straight into it."},
};

const struct lds_role lds_role_unknown = {.name = "", .holds = LDS_SIGNAL_NONE};

const struct lds_role *lds_roles(size_t *count)
{
    *count = sizeof roles / sizeof *roles;
    return roles;
}

const struct lds_role *lds_role_find(const char *name)
{
    for (size_t i = 0; i < sizeof roles / sizeof *roles; i++)
        if (strcmp(roles[i].name, name) == 0)
            return &roles[i];
    return NULL;
}

const struct lds_role *lds_role_leading(enum lds_signal_kind kind)
{
    for (size_t i = 0; i < sizeof roles / sizeof *roles; i++)
        if (roles[i].leads && roles[i].holds == kind)
            return &roles[i];
    return &lds_role_unknown;
}

void lds_roles_list(bool (*which)(const struct lds_role *role), char *text, size_t size)
{
    const char *names[sizeof roles / sizeof *roles];
    size_t count = 0;
    for (size_t i = 0; i < sizeof roles / sizeof *roles; i++)
        if (!which || which(&roles[i]))
            names[count++] = roles[i].name;
    lds_ini_list(names, count, text, size);
}

const char *lds_when_name(enum lds_when when)
{
    static const char *const NAMES[] = {"", "before", "after"};
    return NAMES[when];
}
