/* What every sheet begins with: how it is asked for, and what the shop puts on each. */
#pragma once
#include "base/language.h"
#include "base/units.h"
#include "book/book.h"
#include "sheet/flow.h"

struct ew_sheet_options {
  const char *title; /* NULL: the sheet's own */
  const char *path;
  enum ew_format format;
  int paper;            /* enum ew_paper; -1: the shop's */
  int units;            /* enum ew_unit_system; -1: the shop's */
  const char *language; /* asked for with the sheet; NULL: see below */
};

struct ew_sheet_head {
  struct ew_flow_head flow; /* lives as long as this; `about` is the caller's to set */
  enum ew_unit_system units;
  enum ew_paper paper;
  gpointer owned[5];
  const ew_language *before; /* of this thread */
};
#define EW_SHEET_LANGUAGE "sheet_language" /* the setting */

/* The shop's name, line, terms, logo and labels from the book, with the time of now; a book without a name
 * says how to give it one. `own` is the title where none is asked for, in English; options and it outlive the head.
 *
 * From here until the head is cleared this thread speaks the sheet's language: what was asked for; else, for a sheet that
 * the customer gets, the book's setting; else what the thread spoke. Refuses a language that is not there. */
gboolean ew_sheet_head_read(struct ew_book *book, const struct ew_sheet_options *options,
                            const char *own, gboolean customer, struct ew_sheet_head *head,
                            GError **error);
void ew_sheet_head_clear(struct ew_sheet_head *head);
