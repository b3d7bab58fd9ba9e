/* Numbers as text: exact reading and shortest exact writing, whatever the locale; and figures for people, in their
 * language, rounded to what an uncertainty deserves. */
#pragma once
#include <glib.h>

#define EW_NUMBER_SIZE 40 /* bytes that any number written here needs, with its NUL */

/* The whole of text (blanks around it allowed) as a finite double. FALSE when it is anything else. */
gboolean ew_number_parse(const char *text, double *value);

/* A decimal number of `size` bytes at `text`, no blanks, not NUL-terminated: the same bits as
 * strtod. `decimal` is '.' or ','. Returns FALSE when the bytes are not a plain decimal number. */
gboolean ew_number_read(const char *text, gsize size, char decimal, double *value);

/* The shortest text that reads back to the same bits; NaN and infinities give "null". */
const char *ew_number_write(double value, char buffer[EW_NUMBER_SIZE]);

/* Fixed decimals and a point, in every language: for files and programs. */
const char *ew_number_fixed(double value, int decimals, char buffer[EW_NUMBER_SIZE]);

/* The same for people: the decimal mark of this thread's language. */
const char *ew_number_shown(double value, int decimals, char buffer[EW_NUMBER_SIZE]);

/* "266 ± 3": value and expanded uncertainty, both rounded as above. */
char *ew_number_with_uncertainty(double value, double uncertainty);

/* "4,500": a whole number with thousands marks, as the trade of the reader's language writes engine speeds. */
char *ew_number_thousands(double value);
