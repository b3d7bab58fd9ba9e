/* Paper: pages of one document on Cairo, with text by Pango. Points (1/72 in) from the upper left. */
#pragma once
#include "base/labels.h"
#include <cairo.h>
#include <glib.h>

enum ew_paper { EW_PAPER_A4, EW_PAPER_LETTER };
/* HTML: of the test report and the sheets of a job, one file that needs no other. */
enum ew_format { EW_FORMAT_PDF, EW_FORMAT_SVG, EW_FORMAT_PNG, EW_FORMAT_HTML };
/* OWN: to the left, in somebody's own words, which no choice of labels changes. */
enum ew_align { EW_LEFT, EW_CENTRE, EW_RIGHT, EW_OWN };

/* By the ending of the name; FALSE when it is not one of .pdf, .svg, .png (or .html, where that is allowed). */
gboolean ew_format_of(const char *path, gboolean html, enum ew_format *format);

struct ew_ink {
  double red, green, blue;
};
extern const struct ew_ink ew_black, ew_grey, ew_pale, ew_blue, ew_ochre, ew_green;

struct ew_pages {
  enum ew_format format;
  double width, height, margin;
  const char *path;
  enum ew_labels labels; /* set it after opening; British else */
  char *stamp;           /* ISO 8601, for the PDF's creation date */
  cairo_surface_t *surface;
  cairo_t *cairo;
  int page; /* from 1; 0 before the first */
  GError *error;
};

/* SVG and PNG write one file a page: report.svg, report-2.svg ... */
void ew_pages_open(struct ew_pages *pages, const char *path, enum ew_format format,
                   enum ew_paper paper, const char *title, const char *stamp);
void ew_pages_next(struct ew_pages *pages);
/* Finishes; FALSE when something could not be written. */
gboolean ew_pages_close(struct ew_pages *pages, GError **error);

/* "2026-12-01T08:00:00Z" as the reader writes a day: "01.12.2026"; what is not a day stays as it is. The caller frees it. */
char *ew_sheet_day(const char *stamp);
/* Plain text (never markup); returns its height. width 0: one line. */
double ew_text(struct ew_pages *pages, double x, double y, double width, double size, gboolean bold,
               enum ew_align align, struct ew_ink ink, const char *text);
/* Height of text broken at that width. */
double ew_text_height(struct ew_pages *pages, double width, double size, gboolean bold,
                      enum ew_align align, const char *text);
/* A PNG at most 46 points high and 150 wide at the upper right; NULL and what is not a PNG draw nothing. */
void ew_logo(struct ew_pages *pages, const void *png, gsize bytes);
void ew_line(struct ew_pages *pages, double x0, double y0, double x1, double y1, double width,
             struct ew_ink ink);
void ew_ink_set(struct ew_pages *pages, struct ew_ink ink, double opacity);
