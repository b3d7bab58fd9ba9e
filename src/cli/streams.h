/* Live recordings as open files: each whole stream as a table, and beside it in JSON what it is, with its
 * pulls, marks and trips. */
#pragma once
#include "cli/command.h"

gboolean ew_export_streams(struct ew_book *book, const char *folder, guint *count,
                           struct ew_steps *steps, GError **error);
