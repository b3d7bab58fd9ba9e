/* A test day by script: the practice cell runs, and everything goes through the same doors as files
 * and questions of a real day. The script is YAML: engine, cell, practice, weather and steps. */
#pragma once
#include "desk/report.h"

/* Called for each line that a person may read, with the step it belongs to. */
typedef void (*ew_day_says)(const char *line, gpointer user);

/* Runs the day into the book; with `folder` the recordings are also written there as files. */
gboolean ew_run_day(struct ew_book *book, const struct ew_node *script, const char *where,
                    const char *folder, const char *report_path, ew_day_says says, gpointer user,
                    GError **error);
/* The same as the first work of an empty book, kept whole or not at all: with the settings of an invented shop (a
 * name that stands already stays), marked as practice. Refuses a book that holds any work. */
gboolean ew_run_demo(struct ew_book *book, const struct ew_node *script, const char *where,
                     const char *folder, const char *report_path, ew_day_says says, gpointer user,
                     GError **error);
