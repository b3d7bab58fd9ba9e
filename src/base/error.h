/* Errors of the whole program: one GError domain whose codes map to exit codes.
 *
 * Every message names the field, the value given, the allowed range and what to do. */
#pragma once
#include <glib.h>

enum ew_error_code {
  EW_ERROR_INPUT,    /* the user's file, option or figure is wrong: exit code 2 */
  EW_ERROR_NO,       /* asked and answered with no (a check failed): exit code 1 */
  EW_ERROR_ASKS,     /* input that is hardly meant, and is taken when confirmed: exit code 2 */
  EW_ERROR_INTERNAL, /* disk, memory, a library: exit code 3 */
};

#define EW_ERROR (ew_error_quark())
GQuark ew_error_quark(void);

/* Set an input error. Always returns FALSE, so that a reader can write `return ew_refuse(...)`. */
gboolean ew_refuse(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* The same for input that is taken once the person says that it is meant; each interface says how that is done. */
gboolean ew_ask(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* Set an internal error; returns FALSE. */
gboolean ew_fail(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);
