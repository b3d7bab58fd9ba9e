/* Errors of the whole program: one GError domain whose codes map to exit codes.
 *
 * Every message names the field, the value given, the allowed range and what to do. Where what to do differs between the
 * command line and the page, the error carries a remedy (base/remedy.h), and the interface words it. */
#pragma once
#include "base/remedy.h"
#include <glib.h>

enum ew_error_code {
  EW_ERROR_INPUT,    /* the user's file, option or figure is wrong: exit code 2 */
  EW_ERROR_NO,       /* asked and answered with no (a check failed): exit code 1 */
  EW_ERROR_ASKS,     /* probably not what was meant; taken once confirmed: exit code 2 */
  EW_ERROR_INTERNAL, /* disk, memory, a library: exit code 3 */
};

#define EW_ERROR (ew_error_quark())
GQuark ew_error_quark(void);

/* Set an input error. Always returns FALSE, so that a reader can write `return ew_refuse(...)`. */
gboolean ew_refuse(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* The same with a remedy that each interface words in its own way. */
gboolean ew_refuse_with(GError **error, enum ew_remedy remedy, const char *format, ...)
    G_GNUC_PRINTF(3, 4);

/* The same for input that is taken once the person confirms it; its remedy is EW_REMEDY_SAY_SURE. */
gboolean ew_ask(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* Asked and answered with no; returns FALSE. */
gboolean ew_answer_no(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* Set an internal error; returns FALSE. */
gboolean ew_fail(GError **error, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* EW_REMEDY_NONE for errors of other domains, too. */
enum ew_remedy ew_error_remedy(const GError *error);
/* Which field of a record it is about, as the record's own key ("bore", "cam.advance"); NULL: none. Who reads the field sets
 * it, who reads a group puts the group's key before it; neither changes an error that has none of ours. */
const char *ew_error_field(const GError *error);
void ew_error_at_field(GError **error, const char *field);
void ew_error_in_group(GError **error, const char *group);
/* The message, and what to do about it at that place. The caller frees it. */
char *ew_error_says(const GError *error, enum ew_place place);
