/* Sheets as they will print: as PDF, as pages to look at, the report and a job's sheets as one HTML file; and what is
 * missing before hand-over. */
#include "base/error.h"
#include "desk/build_sheet.h"
#include "desk/day_sheet.h"
#include "desk/handover.h"
#include "desk/job_sheet.h"
#include "desk/report.h"
#include "serve/service.h"
#include <glib/gstdio.h>
#include <string.h>

#define REPORT (-1)
#define DAY    (-2)
#define QUOTE  (-3) /* of a job */
#define ORDERS (-4)

/* What was asked for. kind: a sheet of a build, or one of the two above. */
struct choice {
  int kind, paper, units;
  enum ew_report_reader reader;
  const char *pulls, *title, *photos, *columns, *standard;
  const struct ew_request *request;
};

static const char *const sheet_names[] = {
#define X(id, title, about) #id,
    EW_BUILD_SHEETS(X)
#undef X
};
static const char *const sheet_abouts[] = {
#define X(id, title, about) about,
    EW_BUILD_SHEETS(X)
#undef X
};

static gboolean is_list(const char *text) {
  return !text || (*text && strspn(text, "0123456789,") == strlen(text));
}

/* A job's sheets hold names and prices: for who may write, as the job itself is (api_job.c). */
static gboolean is_allowed(const struct choice *c, GError **error) {
  if (c->kind != QUOTE && c->kind != ORDERS)
    return TRUE;
  if (!c->request->may_write)
    return ew_refuse(error, "kind: this sheet is for devices that may write");
  return ew_request_query(c->request, "job") ||
         ew_refuse(error, "job: not given; name the job or its number");
}

static gboolean read_kind(const char *kind, struct choice *c, GError **error) {
  c->kind = g_strcmp0(kind, "day") == 0      ? DAY
            : g_strcmp0(kind, "quote") == 0  ? QUOTE
            : g_strcmp0(kind, "orders") == 0 ? ORDERS
                                             : REPORT;
  if (!kind || strcmp(kind, "report") == 0 || c->kind != REPORT)
    return is_allowed(c, error);
  for (int k = 0; k < EW_BUILD_SHEETS_COUNT; k++)
    if (strcmp(kind, sheet_names[k]) == 0)
      c->kind = k;
  return c->kind >= 0 || ew_refuse(error,
                                   "kind: '%.40s' is not one of report, day, build, lash, degree, "
                                   "care, dispatch, valves, "
                                   "quote, orders",
                                   kind);
}

static gboolean read_choices(const struct ew_request *r, struct choice *c, GError **error) {
  const char *paper = ew_request_query(r, "paper"), *units = ew_request_query(r, "units");
  *c = (struct choice){.request = r};
  c->pulls = ew_request_query(r, "pulls");
  c->title = ew_request_query(r, "title");
  c->photos = ew_request_query(r, "photos");
  if (!read_kind(ew_request_query(r, "kind"), c, error))
    return FALSE;
  if (paper && strcmp(paper, "a4") && strcmp(paper, "letter"))
    return ew_refuse(error, "paper: '%.40s' is neither a4 nor letter", paper);
  if (units && strcmp(units, "si") && strcmp(units, "us"))
    return ew_refuse(error, "units: '%.40s' is neither si nor us", units);
  if (!is_list(c->pulls))
    return ew_refuse(error, "pulls: give pull numbers, such as 1,2,3");
  if (!is_list(c->photos))
    return ew_refuse(error, "photos: give attachment numbers, such as 1,2");
  if (c->title && strlen(c->title) > 200)
    return ew_refuse(error, "title: longer than 200 bytes");
  const char *reader = ew_request_query(r, "for");
  c->columns = ew_request_query(r, "columns");
  c->standard = ew_request_query(r, "standard");
  if (reader && !ew_report_reader_find(reader, &c->reader))
    return ew_refuse(error, "for: '%.40s' is neither customer nor shop", reader);
  if (c->title && !*c->title)
    c->title = NULL;
  c->paper = !paper ? -1 : strcmp(paper, "letter") == 0 ? EW_PAPER_LETTER : EW_PAPER_A4;
  c->units = !units ? -1 : strcmp(units, "us") == 0 ? EW_UNITS_US : EW_UNITS_SI;
  return TRUE;
}

/* The engine asked for, else that of the last pull, else the last added. */
static char *engine_of(struct ew_service *s, const struct ew_request *r) {
  const char *asked = ew_request_query(r, "engine");
  g_autoptr(GArray) rows = asked ? NULL : ew_pull_list(s->book, 0, NULL);
  if (asked)
    return g_strdup(asked);
  gint64 id = rows->len ? g_array_index(rows, struct ew_pull_row, rows->len - 1).engine_id : 0;
  return id ? g_strdup_printf("%" G_GINT64_FORMAT, id) : NULL;
}

static gboolean make(struct ew_service *s, const struct choice *c, const char *path,
                     enum ew_format format, GError **error) {
  struct ew_desk desk = {0};
  gboolean good = ew_desk_open(&desk, s->book, error);
  g_autofree char *engine = engine_of(s, c->request);
  const struct ew_sheet_options sheet = {
      c->title, path, format, c->paper, c->units, ew_request_query(c->request, "language")};
  if (good && c->kind == DAY) {
    struct ew_day_sheet_options o = {.sheet = sheet};
    good = ew_make_day_sheet(&desk, &o, error);
  } else if (good && c->kind == REPORT) {
    struct ew_report_options o = {.sheet = sheet,
                                  .pulls = c->pulls,
                                  .engine = c->pulls ? ew_request_query(c->request, "engine")
                                                     : engine, /* else the pulls' own */
                                  .reader = c->reader,
                                  .columns = c->columns,
                                  .standard = c->standard,
                                  .photos = c->photos};
    const char *despite = ew_request_query(c->request, "despite");
    good = (!despite || ew_despite_read(despite, &o.despite, error)) &&
           ew_make_report(&desk, &o, error);
  } else if (good && (c->kind == QUOTE || c->kind == ORDERS)) {
    const struct ew_job_sheet_options o = {.sheet = sheet,
                                           .kind = c->kind == QUOTE ? EW_JOB_SHEET_QUOTE
                                                                    : EW_JOB_SHEET_ORDERS,
                                           .job = ew_request_query(c->request, "job")};
    good = ew_make_job_sheet(&desk, &o, error);
  } else if (good) {
    struct ew_build_sheet_options o = {
        .sheet = sheet, .kind = (enum ew_build_sheet_kind)c->kind, .engine = engine};
    good = ew_make_build_sheet(&desk, &o, error);
  }
  ew_desk_clear(&desk);
  return good;
}

/* Sheets are drawn into files: in a folder of their own, read back and removed. */
static void empty_folder(const char *folder) {
  GDir *dir = g_dir_open(folder, 0, NULL);
  const char *name;
  while (dir && (name = g_dir_read_name(dir))) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_unlink(path);
  }
  if (dir)
    g_dir_close(dir);
  g_rmdir(folder);
}

static GBytes *read_back(const char *folder, const char *name, GError **error) {
  g_autofree char *path = g_build_filename(folder, name, NULL);
  g_autoptr(GError) problem = NULL;
  char *data;
  gsize size;
  if (!g_file_get_contents(path, &data, &size, &problem)) {
    ew_fail(error, "%s", problem->message);
    return NULL;
  }
  return g_bytes_new_take(data, size);
}

static gboolean answer_file(struct ew_service *s, const struct choice *c, gboolean html,
                            struct ew_reply *reply, GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autofree char *folder = g_dir_make_tmp("enginewright-XXXXXX", &problem);
  if (!folder)
    return ew_fail(error, "%s", problem->message);
  g_autofree char *name = g_strdup_printf("%s.%s",
                                          c->kind == REPORT   ? "report"
                                          : c->kind == DAY    ? "day"
                                          : c->kind == QUOTE  ? "quote"
                                          : c->kind == ORDERS ? "orders"
                                                              : sheet_names[c->kind],
                                          html ? "html" : "pdf");
  g_autofree char *path = g_build_filename(folder, name, NULL);
  gboolean good = make(s, c, path, html ? EW_FORMAT_HTML : EW_FORMAT_PDF, error) &&
                  (reply->bytes = read_back(folder, name, error)) != NULL;
  if (good) {
    reply->type = html ? "text/html; charset=utf-8" : "application/pdf";
    reply->inert = html;
    reply->download = g_steal_pointer(&name);
  }
  empty_folder(folder);
  return good;
}

gboolean ew_api_sheet(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  struct choice c;
  const char *format = ew_request_query(r, "format");
  gboolean html = g_strcmp0(format, "html") == 0;
  if (!read_choices(r, &c, error))
    return FALSE;
  if (format && !html && strcmp(format, "pdf") != 0)
    return ew_refuse(error, "format: '%.40s' is neither pdf nor html", format);
  if (html && c.kind != REPORT && c.kind != QUOTE && c.kind != ORDERS)
    return ew_refuse(error, "format: only the report, a quote and an order list are made as html");
  return answer_file(s, &c, html, reply, error);
}

gboolean ew_api_report(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  struct choice c;
  if (!read_choices(r, &c, error))
    return FALSE;
  c.kind = REPORT;
  return answer_file(s, &c, FALSE, reply, error);
}

/* Pages as pictures, each as a data address that the page shows. */
static gboolean write_pages(const char *folder, struct ew_json *json, GError **error) {
  ew_json_open_array(json, "pages");
  for (int page = 1; page < 100; page++) {
    g_autofree char *name =
        page == 1 ? g_strdup("sheet.png") : g_strdup_printf("sheet-%d.png", page);
    g_autofree char *path = g_build_filename(folder, name, NULL);
    if (!g_file_test(path, G_FILE_TEST_EXISTS))
      break;
    g_autoptr(GBytes) bytes = read_back(folder, name, error);
    if (!bytes)
      return FALSE;
    gsize size;
    const guint8 *data = g_bytes_get_data(bytes, &size);
    g_autofree char *text = g_base64_encode(data, size);
    g_autofree char *address = g_strconcat("data:image/png;base64,", text, NULL);
    ew_json_text(json, NULL, address);
  }
  ew_json_close_array(json);
  return TRUE;
}

gboolean ew_api_sheet_pages(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  struct choice c;
  g_autoptr(GError) problem = NULL;
  if (!read_choices(r, &c, error))
    return FALSE;
  g_autofree char *folder = g_dir_make_tmp("enginewright-XXXXXX", &problem);
  if (!folder)
    return ew_fail(error, "%s", problem->message);
  g_autofree char *path = g_build_filename(folder, "sheet.png", NULL);
  gboolean good =
      make(s, &c, path, EW_FORMAT_PNG, error) && write_pages(folder, &reply->json, error);
  empty_folder(folder);
  return good;
}

static void write_sheet(const char *kind, const char *title, const char *about,
                        struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_text(json, "kind", kind);
  ew_json_text(json, "title", title);
  ew_json_text(json, "about", about);
  ew_json_close(json);
}

gboolean ew_api_handover(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  struct ew_json *json = &reply->json;
  struct ew_desk desk = {0};
  struct ew_engine_row engine;
  g_autofree char *wanted = engine_of(s, r);
  g_autoptr(GPtrArray) engines = ew_engine_names(s->book, error);
  if (!engines || !ew_engine_find(s->book, wanted, &engine, error))
    return FALSE;
  ew_json_texts(json, "engines", engines);
  ew_json_open_array(json, "sheets");
  write_sheet("report", ew_tr("Test report"),
              ew_tr("For the customer: what came out, and how sure it is"), json);
  write_sheet("day", ew_tr("Day sheet"),
              ew_tr("The day in order: pulls, changes, notes, marks, answers"), json);
  for (int k = 0; k < EW_BUILD_SHEETS_COUNT; k++)
    write_sheet(sheet_names[k], ew_tr(ew_build_sheet_titles[k]), ew_tr(sheet_abouts[k]), json);
  ew_json_close_array(json);
  ew_json_open_array(json, "missing");
  gboolean any = engine.id != 0, good = TRUE;
  if (!any && ew_request_query(r, "engine"))
    good = ew_refuse(error, "engine: '%.60s' is not in this book", wanted);
  if (any) {
    good = ew_desk_open(&desk, s->book, error);
    g_autoptr(GArray) missing = good ? ew_desk_missing(&desk, engine.name, error) : NULL;
    good = missing != NULL;
    for (guint i = 0; missing && i < missing->len; i++) {
      const struct ew_missing *m = &g_array_index(missing, struct ew_missing, i);
      ew_json_open(json, NULL);
      ew_json_boolean(json, "grave", m->grave);
      ew_message_write_json(m->what, EW_UNITS_SI, json);
      ew_json_close(json);
    }
    ew_desk_clear(&desk);
  }
  ew_json_close_array(json);
  ew_json_text(json, "engine", engine.name);
  ew_engine_row_clear(&engine);
  return good;
}
