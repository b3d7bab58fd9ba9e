/* A test day by script: the practice cell runs, and everything goes through the same doors as files
 * and questions of a real day. The script is YAML: engine, cell, practice, weather and steps. */
#pragma once
#include "base/progress.h"
#include "desk/report.h"

/* Who watches: `says` gets each line that a person may read, `progress` the share of the steps that are done. Both may be
 * NULL. */
struct ew_day_watch {
  void (*says)(const char *line, gpointer user);
  ew_progress progress;
  gpointer user;
};

/* Runs the day into the book; with `folder` the recordings are also written there as files. `watch` may be NULL. */
gboolean ew_run_day(struct ew_book *book, const struct ew_node *script, const char *where,
                    const char *folder, const char *report_path, const struct ew_day_watch *watch,
                    GError **error);
/* The same as the first work of an empty book, kept whole or not at all: with the settings of an invented shop (a
 * name that is there already stays), marked as practice. What its script has typed is put into this thread's language, in
 * place. Refuses a book that holds any work. */
gboolean ew_run_demo(struct ew_book *book, struct ew_node *script, const char *where,
                     const char *folder, const char *report_path, const struct ew_day_watch *watch,
                     GError **error);
