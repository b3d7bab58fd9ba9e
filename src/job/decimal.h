/* Money and quantities as the paper has them: whole numbers of ten thousandths, so that a sum is what a hand would add up. */
#pragma once
#include <glib.h>

#define EW_DECIMAL_ONE  10000 /* ten thousandths in 1 */
#define EW_DECIMAL_CENT 100   /* in 0.01 */
#define EW_DECIMAL_SIZE 40    /* bytes that any value written here needs, with its NUL */

enum ew_decimal_fault {
  EW_DECIMAL_FINE,
  EW_DECIMAL_NOT_A_NUMBER,
  EW_DECIMAL_TWO_WAYS, /* "1,234": one thousand, or a little more than one? */
  EW_DECIMAL_TOO_FINE, /* more than four decimals */
  EW_DECIMAL_TOO_LARGE /* a thousand million or more */
};
/* The whole of `text` (blanks around it allowed): a point or a comma as decimal mark, the other between groups of three.
 * Exact: no floating point on the way. */
enum ew_decimal_fault ew_decimal_read(const char *text, gint64 *value);
/* Set a refusal that names `what`, the text and what to write; `where` may be a file with a line. FALSE. */
gboolean ew_decimal_refuse(enum ew_decimal_fault fault, const char *where, const char *what,
                           const char *text, GError **error);

/* price x quantity in ten thousandths, rounded to a cent, half away from zero. */
gint64 ew_decimal_times(gint64 price, gint64 quantity);
/* "1234.5000": four decimals and a point, which reads back the same whoever reads it. */
const char *ew_decimal_write(gint64 value, char buffer[EW_DECIMAL_SIZE]);
/* For people, in their language: money with two decimals or as many as it has ("1,234.50"), a count with as few as it
 * needs ("16", "2.5"). To be freed. */
char *ew_money_show(gint64 value);
char *ew_count_show(gint64 value);
