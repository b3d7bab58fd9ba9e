/* Sheets as they will print. */
#include "base/error.h"
#include "desk/report.h"
#include "serve/service.h"
#include <glib/gstdio.h>
#include <string.h>

static gboolean read_choices(const struct ew_request *r, struct ew_report_options *o,
                             GError **error) {
  const char *paper = ew_request_query(r, "paper"), *units = ew_request_query(r, "units");
  const char *pulls = ew_request_query(r, "pulls"), *title = ew_request_query(r, "title");
  if (paper && strcmp(paper, "a4") && strcmp(paper, "letter"))
    return ew_refuse(error, "paper: '%.40s' is neither a4 nor letter", paper);
  if (units && strcmp(units, "si") && strcmp(units, "us"))
    return ew_refuse(error, "units: '%.40s' is neither si nor us", units);
  if (pulls && (!*pulls || strspn(pulls, "0123456789,") != strlen(pulls)))
    return ew_refuse(error, "pulls: numbers of pulls are wanted, such as 1,2,3");
  if (title && strlen(title) > 200)
    return ew_refuse(error, "title: longer than 200 bytes");
  o->pulls = pulls;
  o->title = title && *title ? title : NULL;
  o->paper = !paper ? -1 : strcmp(paper, "letter") == 0 ? EW_PAPER_LETTER : EW_PAPER_A4;
  o->units = !units ? -1 : strcmp(units, "us") == 0 ? EW_UNITS_US : EW_UNITS_SI;
  return TRUE;
}

/* Cairo writes files: one in a folder of its own, read back and removed. */
gboolean ew_api_report(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  struct ew_report_options options = {.format = EW_FORMAT_PDF};
  struct ew_desk desk = {0};
  g_autoptr(GError) problem = NULL;
  if (!read_choices(r, &options, error))
    return FALSE;
  g_autofree char *folder = g_dir_make_tmp("enginewright-XXXXXX", &problem);
  if (!folder)
    return ew_fail(error, "%s", problem->message);
  g_autofree char *path = g_build_filename(folder, "report.pdf", NULL);
  options.path = path;
  gboolean good = ew_desk_open(&desk, s->book, error) && ew_make_report(&desk, &options, error);
  ew_desk_clear(&desk);
  char *data = NULL;
  gsize size = 0;
  if (good && !g_file_get_contents(path, &data, &size, &problem))
    good = ew_fail(error, "%s", problem->message);
  if (good) {
    reply->bytes = g_bytes_new_take(data, size);
    reply->type = "application/pdf";
    reply->download = g_strdup("report.pdf");
  }
  g_unlink(path);
  g_rmdir(folder);
  return good;
}
