/* Numbers as text, independent of the locale: exact reading, shortest exact writing, and
 * rounding to what an uncertainty deserves. */
#pragma once
#include <glib.h>

#define EW_NUMBER_SIZE 40 /* bytes that any number written here needs, with its NUL */

/* The whole of text (blanks around it allowed) as a finite double. FALSE when it is anything else. */
gboolean ew_number_parse(const char *text, double *value);

/* A decimal number of `size` bytes at `text`, no blanks, not NUL-terminated: the same bits as
 * strtod. `decimal` is '.' or ','. Returns FALSE when the bytes are no plain decimal number. */
gboolean ew_number_read(const char *text, gsize size, char decimal, double *value);

/* The shortest text that reads back to the same bits; NaN and infinities give "null". */
const char *ew_number_write(double value, char buffer[EW_NUMBER_SIZE]);

/* Fixed decimals, with a typographic minus left to the caller. */
const char *ew_number_fixed(double value, int decimals, char buffer[EW_NUMBER_SIZE]);

/* "266 ± 3": value and expanded uncertainty, both rounded as above. */
char *ew_number_with_uncertainty(double value, double uncertainty);

/* "4,500": a whole number with thousands marks, as the trade writes engine speeds. */
char *ew_number_thousands(double value);
