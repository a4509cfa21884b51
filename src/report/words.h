/* Text that came from outside made safe: as src/safe_text.h has it, for the writers of reports. */
#ifndef LDS_REPORT_WORDS_H
#define LDS_REPORT_WORDS_H

#include "safe_text.h"

#endif
