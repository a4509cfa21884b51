#include "ini_line.h"

#include <string.h>

enum lds_ini_line lds_ini_line_read(char *text, int size, FILE *file)
{
    if (!fgets(text, size, file))
        return LDS_INI_END;
    size_t length = strlen(text);
    if (length + 1 < (size_t)size || text[length - 1] == '\n')
        return LDS_INI_LINE;
    int c = getc(file);
    if (c == EOF) /* the last line, without an end, just fits */
        return LDS_INI_LINE;
    while (c != EOF && c != '\n')
        c = getc(file);
    return LDS_INI_TOO_LONG;
}
