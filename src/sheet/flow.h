/* Text that flows down pages, or into one HTML file: headings, paragraphs, cautions, pairs and tables, with head and foot. Headings, paragraphs,
 * cautions, labels and heads of columns are texts of the catalogue: they are put into the thread's language here. What draws on the
 * pages itself (`pages`) can't be made into HTML. */
#pragma once
#include "sheet/page.h"

struct ew_flow_head {
  const char *title, *about, *shop, *shop_line, *terms; /* about: engine and build */
  const char *stamp;                                    /* ISO 8601 */
  enum ew_labels labels;
  const void *logo_png; /* PNG bytes, or NULL */
  gsize logo_bytes;
};

struct ew_flow {
  struct ew_pages pages;
  struct ew_flow_head head;
  double y;
  double keep;   /* height that has to follow the next table on the page of its last rows */
  GString *html; /* of a flow into HTML; else NULL */
};

void ew_flow_open(struct ew_flow *flow, const struct ew_flow_head *head, const char *path,
                  enum ew_format format, enum ew_paper paper);
gboolean ew_flow_close(struct ew_flow *flow, GError **error);
/* Begin a new page when less than that is left. */
void ew_flow_need(struct ew_flow *flow, double height);
double ew_flow_width(const struct ew_flow *flow);
double ew_flow_left(const struct ew_flow *flow); /* height that is left on this page */

void ew_flow_heading(struct ew_flow *flow, const char *text);
void ew_flow_text(struct ew_flow *flow, double size, gboolean bold, const char *text);
/* A frame with the word Caution before the text. */
void ew_flow_caution(struct ew_flow *flow, const char *text);
/* Two columns of label and value; pairs of char*, a NULL or empty value is left out. What somebody typed keeps its words
 * whatever the labels (base/labels.h). */
gboolean ew_pair_is_typed(const char *label); /* by its English */
void ew_flow_pairs(struct ew_flow *flow, const GPtrArray *pairs);

struct ew_flow_column {
  const char *head;
  double share; /* of the width; all are scaled to fill it */
  enum ew_align align;
};
/* Cells row by row, of char*; NULL is an empty box to write into, "" an empty cell. A text that
 * begins with '!' is set bold without it. height 0: as high as the text asks for. */
void ew_flow_table(struct ew_flow *flow, const struct ew_flow_column *columns, guint count,
                   const GPtrArray *cells, double size, double height);
