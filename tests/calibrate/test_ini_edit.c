/* Single values of an INI file are changed, and nothing else. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ini_edit.h"

static void test_edits(void **state)
{
    (void)state;
    static const struct {
        const char *text, *section, *key, *value, *wanted, *old;
    } cases[] = {
        {"[bench]\nload = 8 ohm\n", "bench", "load", "4 ohm", "[bench]\nload = 4 ohm\n", "8 ohm"},
        {"[bench]\nload=8   ; dummy\n", "bench", "load", "4", "[bench]\nload=4   ; dummy\n", "8"},
        {"; load = 1\n[bench]\n  load : 8\n", "bench", "load", "4", "; load = 1\n[bench]\n  load : 4\n", "8"},
        {"[bench]\nname = a\n\n; last\n", "bench", "load", "4", "[bench]\nname = a\nload = 4\n\n; last\n", ""},
        {"[bench]\nname = a", "bench", "load", "4", "[bench]\nname = a\nload = 4\n", ""},
        {"[bench]\r\nname = a\r\n", "bench", "load", "4", "[bench]\r\nname = a\r\nload = 4\r\n", ""},
        {"\xEF\xBB\xBF[bench]\nload = 8\n", "bench", "load", "4", "\xEF\xBB\xBF[bench]\nload = 4\n", "8"},
        {"[bench]\nload = 8\n[channel 2]\nload = 6\n", "channel 2", "load", "5",
         "[bench]\nload = 8\n[channel 2]\nload = 5\n", "6"},
        {"[bench]\nload = 8\n", "channel 2", "load", "5", "[bench]\nload = 8\n\n[channel 2]\nload = 5\n", ""},
        {"", "bench", "load", "4", "[bench]\nload = 4\n", ""},
        {"[bench]\nload =\n", "bench", "load", "4", "[bench]\nload =4\n", ""},
        {"[bench]\nload =; none\n", "bench", "load", "4", "[bench]\nload =4 ; none\n", ""},
        {"[bench]\nload_percent = 1\n", "bench", "load", "4", "[bench]\nload_percent = 1\nload = 4\n", ""},
        {"[bench]\nname = a;b\nload = 8\n", "bench", "name", "c", "[bench]\nname = c\nload = 8\n", "a;b"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char old[64];
        char *edited = lds_ini_edit(cases[i].text, cases[i].section, cases[i].key, cases[i].value, old, sizeof old);
        assert_string_equal(edited, cases[i].wanted);
        assert_string_equal(old, cases[i].old);
        free(edited);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_edits)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
