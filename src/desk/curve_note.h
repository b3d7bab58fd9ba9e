/* Notes on curves as the interfaces write and tell them. */
#pragma once
#include "base/json_writer.h"
#include "book/curve_note.h"

/* Keeps a note at this speed ("4250 rpm"), which must lie within the curve of the pull as it is stored now. 0 with *error. */
gint64 ew_write_curve_note(struct ew_book *book, gint64 pull_id, const char *speed,
                           const char *text, const char *who, gboolean *added, GError **error);
/* A list under `key`: `id`, `pull`, `speed_rpm`, `text`, `at`, `who`, `taken_back` (why, or null); of one pull (0: of all). */
gboolean ew_curve_notes_json(struct ew_book *book, gint64 pull_id, const char *key,
                             struct ew_json *json, GError **error);
