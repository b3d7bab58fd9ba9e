/* Gathers the day sheet from the book. */
#pragma once
#include "desk/build_sheet.h"

struct ew_day_sheet_options {
  const char *day;   /* "2026-11-25"; NULL: the day of the last pull */
  const char *title; /* NULL: "Day sheet" */
  const char *path;
  enum ew_format format;
  int paper; /* enum ew_paper; -1: the shop's */
  int units; /* enum ew_unit_system; -1: the shop's */
};
gboolean ew_make_day_sheet(struct ew_desk *desk, const struct ew_day_sheet_options *options,
                           GError **error);
