/* Shared by the writers of a ledger's history. */
#ifndef LDS_REPORT_LEDGER_PARTS_H
#define LDS_REPORT_LEDGER_PARTS_H

#include "loadside/ledger.h"

/* "Thistlecote Sedge 25, serial number 0042", not escaped; to be freed. NULL: no memory. */
char *lds_ledger_unit_words(const struct lds_ledger_unit *unit);

/* "Sine, 1 kHz, 10 W into 8 ohm". */
void lds_series_condition(const struct lds_ledger_series *series, char *text, size_t size);
/* "left", "left and right", or "channel 1", "channels 1 and 2" where a name is missing. */
enum { LDS_SERIES_CHANNEL = 160 };
void lds_series_channel(const struct lds_ledger_series *series, char *text, size_t size);
/* The label of the figure with its band or orders, as in other tables; its key. Escaped. */
void lds_series_label(const struct lds_ledger_series *series, char *label, size_t size);
void lds_series_key(const struct lds_ledger_series *series, char *key, size_t size);

/* Same role, power, load, tone and sampling rate. */
bool lds_series_same_condition(const struct lds_ledger_series *one, const struct lds_ledger_series *other);

/* "2019-03-02": the day of a date; "no date" when it is not known. Escaped. */
void lds_ledger_day(const char *date, char day[16]);

#endif
