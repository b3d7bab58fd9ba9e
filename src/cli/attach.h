/* Attachments and notes as open files: each file as it came, and what they are in JSON. */
#pragma once
#include "cli/command.h"

gboolean ew_export_attachments(struct ew_book *book, const char *folder, guint *count,
                               struct ew_steps *steps, GError **error);
gboolean ew_export_notes(struct ew_book *book, const char *folder, GError **error);
