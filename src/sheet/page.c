/* Cairo surfaces for PDF, SVG and PNG behind one way of drawing. A file is written beside its place and renamed when
 * it is whole. The first error sticks, and is reported at the close. */
#include "sheet/page.h"
#include "base/error.h"
#include "base/language.h"
#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <stdio.h>
#include <string.h>

#define FONT      "DejaVu Sans"
#define PNG_SCALE 2.0 /* 144 dots an inch */

/* Told apart also without colour by dash and label; blue and ochre stay apart for all kinds of sight. */
const struct ew_ink ew_black = {0.08, 0.08, 0.1}, ew_grey = {0.42, 0.43, 0.45},
                    ew_pale = {0.84, 0.85, 0.86}, ew_blue = {0.05, 0.27, 0.47},
                    ew_ochre = {0.69, 0.38, 0.05}, ew_green = {0.1, 0.42, 0.33};

gboolean ew_format_of(const char *path, gboolean html, enum ew_format *format) {
  static const char *const endings[] = {[EW_FORMAT_PDF] = ".pdf",
                                        [EW_FORMAT_SVG] = ".svg",
                                        [EW_FORMAT_PNG] = ".png",
                                        [EW_FORMAT_HTML] = ".html"};
  for (guint k = 0; k < G_N_ELEMENTS(endings); k++)
    if (g_str_has_suffix(path, endings[k]) && (html || k != EW_FORMAT_HTML)) {
      *format = (enum ew_format)k;
      return TRUE;
    }
  return FALSE;
}

static char *page_path(const struct ew_pages *p) {
  if (p->page == 1)
    return g_strdup(p->path);
  const char *dot = strrchr(p->path, '.');
  gsize stem = dot ? (gsize)(dot - p->path) : strlen(p->path);
  return g_strdup_printf("%.*s-%d%s", (int)stem, p->path, p->page, dot ? dot : "");
}

/* Drawn beside its place and moved there when whole: a full disk leaves no half sheet, and an older
 * sheet of the name stays until then. */
static char *part_path(const char *path) {
  return g_strconcat(path, ".part", NULL);
}

static void settle(struct ew_pages *p, const char *path) {
  g_autofree char *part = part_path(path);
  if (!p->error && g_rename(part, path) != 0)
    ew_fail(&p->error, "%s: %s", path, g_strerror(errno));
  if (p->error)
    g_unlink(part);
}

static void check(struct ew_pages *p, cairo_status_t status) {
  if (status != CAIRO_STATUS_SUCCESS && !p->error)
    ew_fail(&p->error, "%s: the sheet could not be written (%s); is the disk full?", p->path,
            cairo_status_to_string(status));
}

static void end_page(struct ew_pages *p) {
  if (!p->cairo)
    return;
  if (p->format == EW_FORMAT_PDF) {
    cairo_show_page(p->cairo);
    return;
  }
  cairo_destroy(p->cairo);
  g_autofree char *path = page_path(p), *part = part_path(path);
  if (p->format == EW_FORMAT_PNG)
    check(p, cairo_surface_write_to_png(p->surface, part));
  cairo_surface_finish(p->surface);
  check(p, cairo_surface_status(p->surface));
  cairo_surface_destroy(p->surface);
  settle(p, path);
  p->cairo = NULL;
  p->surface = NULL;
}

void ew_pages_open(struct ew_pages *p, const char *path, enum ew_format format, enum ew_paper paper,
                   const char *title, const char *stamp) {
  *p = (struct ew_pages){.format = format, .path = path, .margin = 48, .stamp = g_strdup(stamp)};
  p->width = paper == EW_PAPER_A4 ? 595.276 : 612;
  p->height = paper == EW_PAPER_A4 ? 841.890 : 792;
  if (format != EW_FORMAT_PDF)
    return;
  g_autofree char *part = part_path(path);
  p->surface = cairo_pdf_surface_create(part, p->width, p->height);
  cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_TITLE, title);
  cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATOR, "Enginewright");
  cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATE_DATE, stamp);
  p->cairo = cairo_create(p->surface);
  check(p, cairo_surface_status(p->surface));
}

void ew_pages_next(struct ew_pages *p) {
  if (p->page > 0)
    end_page(p);
  p->page++;
  if (p->format == EW_FORMAT_SVG) {
    g_autofree char *path = page_path(p), *part = part_path(path);
    p->surface = cairo_svg_surface_create(part, p->width, p->height);
    p->cairo = cairo_create(p->surface);
  } else if (p->format == EW_FORMAT_PNG) {
    p->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)(p->width * PNG_SCALE),
                                            (int)(p->height * PNG_SCALE));
    p->cairo = cairo_create(p->surface);
    cairo_scale(p->cairo, PNG_SCALE, PNG_SCALE);
  }
  cairo_set_source_rgb(p->cairo, 1, 1, 1);
  if (p->format != EW_FORMAT_PDF)
    cairo_paint(p->cairo);
}

gboolean ew_pages_close(struct ew_pages *p, GError **error) {
  end_page(p);
  if (p->format == EW_FORMAT_PDF) {
    cairo_destroy(p->cairo);
    cairo_surface_finish(p->surface);
    check(p, cairo_surface_status(p->surface));
    cairo_surface_destroy(p->surface);
    settle(p, p->path);
  }
  g_free(p->stamp);
  if (p->error)
    g_propagate_error(error, p->error);
  return p->error == NULL;
}

static PangoLayout *layout_of(struct ew_pages *p, double width, double size, gboolean bold,
                              enum ew_align align, const char *text) {
  PangoLayout *layout = pango_cairo_create_layout(p->cairo);
  PangoFontDescription *font = pango_font_description_from_string(FONT);
  pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
  if (bold)
    pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
  pango_layout_set_font_description(layout, font);
  pango_font_description_free(font);
  g_autofree char *valid = g_utf8_make_valid(text, -1);
  g_autofree char *put =
      p->labels == EW_LABELS_BRITISH || align == EW_OWN ? NULL : ew_labels_put(valid, p->labels);
  pango_layout_set_text(layout, put ? put : valid, -1);
  if (width > 0) {
    pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
  }
  if (width > 0 && (align == EW_CENTRE || align == EW_RIGHT))
    pango_layout_set_alignment(layout, align == EW_RIGHT ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_CENTER);
  return layout;
}

double ew_text(struct ew_pages *p, double x, double y, double width, double size, gboolean bold,
               enum ew_align align, struct ew_ink ink, const char *text) {
  g_assert(size > 0);
  PangoLayout *layout = layout_of(p, width, size, bold, align, text);
  int w, h;
  pango_layout_get_size(layout, &w, &h);
  double shift = width > 0 || align == EW_LEFT || align == EW_OWN ? 0
                 : align == EW_RIGHT                              ? -w
                                                                  : -w / 2.0;
  ew_ink_set(p, ink, 1);
  cairo_move_to(p->cairo, x + shift / PANGO_SCALE, y);
  pango_cairo_show_layout(p->cairo, layout);
  g_object_unref(layout);
  return (double)h / PANGO_SCALE;
}

double ew_text_height(struct ew_pages *p, double width, double size, gboolean bold,
                      enum ew_align align, const char *text) {
  g_assert(size > 0);
  PangoLayout *layout = layout_of(p, width, size, bold, align, text);
  int w, h;
  pango_layout_get_size(layout, &w, &h);
  g_object_unref(layout);
  return (double)h / PANGO_SCALE;
}

struct png_source {
  const guint8 *at;
  gsize left;
};

static cairo_status_t read_png(void *closure, unsigned char *data, unsigned length) {
  struct png_source *source = closure;
  if (length > source->left)
    return CAIRO_STATUS_READ_ERROR;
  memcpy(data, source->at, length);
  source->at += length;
  source->left -= length;
  return CAIRO_STATUS_SUCCESS;
}

void ew_logo(struct ew_pages *p, const void *png, gsize bytes) {
  if (!png)
    return;
  struct png_source source = {png, bytes};
  cairo_surface_t *logo = cairo_image_surface_create_from_png_stream(read_png, &source);
  if (cairo_surface_status(logo) == CAIRO_STATUS_SUCCESS) {
    double w = cairo_image_surface_get_width(logo), h = cairo_image_surface_get_height(logo);
    double scale = fmin(46 / h, 150 / w);
    cairo_save(p->cairo);
    cairo_translate(p->cairo, p->width - p->margin - w * scale, p->margin - 8);
    cairo_scale(p->cairo, scale, scale);
    cairo_set_source_surface(p->cairo, logo, 0, 0);
    cairo_paint(p->cairo);
    cairo_restore(p->cairo);
  }
  cairo_surface_destroy(logo);
}

void ew_ink_set(struct ew_pages *p, struct ew_ink ink, double opacity) {
  cairo_set_source_rgba(p->cairo, ink.red, ink.green, ink.blue, opacity);
}

void ew_line(struct ew_pages *p, double x0, double y0, double x1, double y1, double width,
             struct ew_ink ink) {
  g_assert(width > 0);
  ew_ink_set(p, ink, 1);
  cairo_set_line_width(p->cairo, width);
  cairo_move_to(p->cairo, x0, y0);
  cairo_line_to(p->cairo, x1, y1);
  cairo_stroke(p->cairo);
}

char *ew_sheet_day(const char *stamp) {
  int year, month, day;
  if (!stamp || sscanf(stamp, "%4d-%2d-%2d", &year, &month, &day) != 3)
    return g_strdup(stamp ? stamp : "");
  GString *text = g_string_new(NULL);
  for (const char *c = ew_language_day_pattern(); *c; c++)
    if (*c != '%')
      g_string_append_c(text, *c);
    else
      switch (*++c) {
      case 'Y': g_string_append_printf(text, "%04d", year); break;
      case 'm': g_string_append_printf(text, "%02d", month); break;
      case 'd': g_string_append_printf(text, "%02d", day); break;
      default: g_assert_not_reached(); /* a pattern of ours: characters, not an enumeration */
      }
  return g_string_free(text, FALSE);
}
