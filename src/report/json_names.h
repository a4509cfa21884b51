/* The names of the members that a column's numbers have in JSON: the column's name, or that of the limit, and the unit.
 */
#ifndef LDS_REPORT_JSON_NAMES_H
#define LDS_REPORT_JSON_NAMES_H

#include "loadside/series.h"

enum { LDS_JSON_NAME = 48 };

/* What a linear number is written in: volts, dBFS where the channel is not calibrated, or, among the curves, as it is.
 */
enum lds_json_scale { LDS_JSON_VOLTS, LDS_JSON_DBFS, LDS_JSON_FULL_SCALE };

/* "level_v", "level_dbfs", "frequency_hz"; name: the column's, "low" or "high". */
void lds_json_name(const char *name, enum lds_quantity quantity, enum lds_json_scale scale, char member[LDS_JSON_NAME]);

/* Whether its numbers are written in volts or dBFS. */
bool lds_json_is_level(enum lds_quantity quantity);

#endif
