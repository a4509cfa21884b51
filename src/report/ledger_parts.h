/* Shared by the writers of a ledger's history. */
#ifndef LDS_REPORT_LEDGER_PARTS_H
#define LDS_REPORT_LEDGER_PARTS_H

#include "loadside/ledger.h"
#include "report/words.h"

/* "Thistlecote Sedge 25, serial number 0042", not escaped; to be freed. NULL: no memory. */
char *lds_ledger_unit_words(const struct lds_ledger_unit *unit);

/* "Sine, 1 kHz, 10 W into 8 ohm". */
struct lds_label lds_series_condition(const struct lds_ledger_series *series);
/* "left", "left and right", or "channel 1", "channels 1 and 2" where a name is missing. */
struct lds_sentence lds_series_channel(const struct lds_ledger_series *series);
/* The label of the figure with its band or orders, as in other tables; its key. Escaped. */
struct lds_sentence lds_series_label(const struct lds_ledger_series *series);
struct lds_sentence lds_series_key(const struct lds_ledger_series *series);

/* Same role, power, load, tone and sampling rate. */
bool lds_series_same_condition(const struct lds_ledger_series *one, const struct lds_ledger_series *other);

/* "2019-03-02": the day of a date; "no date" when it is not known. Escaped. */
struct lds_sentence lds_ledger_day(const char *date);

#endif
