/* Gathers the day sheet from the book. */
#pragma once
#include "desk/loaded.h"
#include "desk/sheet_head.h"

struct ew_day_sheet_options {
  struct ew_sheet_options sheet;
  const char *day; /* "2026-11-25"; NULL: the day of the last pull */
};
gboolean ew_make_day_sheet(struct ew_desk *desk, const struct ew_day_sheet_options *options,
                           GError **error);
