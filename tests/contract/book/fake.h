/* A store that is not kind, over one that is: the k-th operation fails, or says "run it again", or takes its time, and rows
 * that nobody asked to be ordered come the other way round. Counts what it is asked. */
#pragma once
#include "base/error.h"
#include "book/port.h"
#include <string.h>

struct fake {
  struct ew_port port;
  struct ew_port *real;
  int asked;        /* operations until now */
  int at;           /* the one that does not go well; 0: none */
  gboolean again;   /* it says "run it again"; else it fails */
  gboolean always;  /* so do all after it */
  gboolean reorder; /* rows without ORDER BY come last first */
  gulong wait_us;   /* before each */
  int struck;       /* how often it did not go well */
};

/* One value as each reader may ask for it. */
struct fake_value {
  gboolean is_null;
  gint64 number;
  double real;
  char *text;
  GBytes *bytes;
};

struct fake_rows {
  struct ew_port_rows rows;
  struct ew_port_rows *real;
  gboolean backwards;
  GPtrArray *kept; /* of struct fake_value[columns], when backwards */
  int columns;
  guint left;
};

static struct fake *fake_of(struct ew_port *port) {
  return (struct fake *)port;
}

static enum ew_port_answer fake_strikes(struct fake *f, GError **error) {
  if (f->wait_us)
    g_usleep(f->wait_us);
  f->asked++;
  if (!f->at || (f->always ? f->asked < f->at : f->asked != f->at))
    return EW_PORT_DONE;
  f->struck++;
  ew_fail(error, "the fake did not want to");
  return f->again ? EW_PORT_AGAIN : EW_PORT_FAILED;
}

static enum ew_port_answer fake_begin(struct ew_port *port, GError **error) {
  struct fake *f = fake_of(port);
  enum ew_port_answer answer = fake_strikes(f, error);
  return answer != EW_PORT_DONE ? answer : f->real->class->begin(f->real, error);
}

static enum ew_port_answer fake_commit(struct ew_port *port, GError **error) {
  struct fake *f = fake_of(port);
  enum ew_port_answer answer = fake_strikes(f, error);
  return answer != EW_PORT_DONE ? answer : f->real->class->commit(f->real, error);
}

static void fake_rollback(struct ew_port *port) {
  fake_of(port)->real->class->rollback(fake_of(port)->real);
}

static gboolean fake_is_open(struct ew_port *port) {
  return fake_of(port)->real->class->is_open(fake_of(port)->real);
}

/* Is the order of the outer SELECT nobody's wish? */
static gboolean fake_has_no_order(const char *sql) {
  const char *last = strrchr(sql, ')');
  return g_str_has_prefix(sql, "SELECT") && !strstr(last ? last : sql, "ORDER BY") &&
         !strstr(sql, "UNION ALL");
}

static struct ew_port_rows *fake_prepare(struct ew_port *port, const char *sql, GError **error) {
  struct fake *f = fake_of(port);
  enum ew_port_answer answer = fake_strikes(f, error);
  f->port.again |= answer == EW_PORT_AGAIN;
  struct ew_port_rows *real =
      answer == EW_PORT_DONE ? f->real->class->prepare(f->real, sql, error) : NULL;
  if (!real)
    return NULL;
  struct fake_rows *rows = g_new0(struct fake_rows, 1);
  rows->rows.port = port;
  rows->real = real;
  rows->backwards = f->reorder && fake_has_no_order(sql);
  rows->columns = real->port->class->columns(real);
  return &rows->rows;
}

#define FAKE(rows)   ((struct fake_rows *)(rows))
#define REAL(rows)   (FAKE(rows)->real)
#define REALLY(rows) (REAL(rows)->port->class)

static void fake_bind(struct ew_port_rows *rows, int index, const struct ew_port_value *value) {
  REALLY(rows)->bind(REAL(rows), index, value);
}

static struct fake_value *fake_keep_row(struct ew_port_rows *rows) {
  struct fake_value *all = g_new0(struct fake_value, (gsize)FAKE(rows)->columns);
  for (int i = 0; i < FAKE(rows)->columns; i++) {
    gsize size;
    all[i].is_null = REALLY(rows)->is_null(REAL(rows), i);
    all[i].number = REALLY(rows)->number(REAL(rows), i);
    all[i].real = REALLY(rows)->real(REAL(rows), i);
    const void *bytes = REALLY(rows)->bytes(REAL(rows), i, &size);
    all[i].bytes = g_bytes_new(bytes, size);
    all[i].text = g_strdup(REALLY(rows)->text(REAL(rows), i));
  }
  return all;
}

static enum ew_port_answer fake_keep_rows(struct ew_port_rows *rows, GError **error) {
  enum ew_port_answer answer;
  FAKE(rows)->kept = g_ptr_array_new();
  while ((answer = REALLY(rows)->step(REAL(rows), error)) == EW_PORT_ROW)
    g_ptr_array_add(FAKE(rows)->kept, fake_keep_row(rows));
  FAKE(rows)->left = FAKE(rows)->kept->len + 1;
  return answer;
}

static enum ew_port_answer fake_step(struct ew_port_rows *rows, GError **error) {
  enum ew_port_answer answer = fake_strikes(fake_of(rows->port), error);
  if (answer != EW_PORT_DONE)
    return answer;
  if (!FAKE(rows)->backwards)
    return REALLY(rows)->step(REAL(rows), error);
  if (!FAKE(rows)->kept && (answer = fake_keep_rows(rows, error)) != EW_PORT_DONE)
    return answer;
  return --FAKE(rows)->left > 0 ? EW_PORT_ROW : EW_PORT_DONE;
}

static void fake_finish(struct ew_port_rows *rows) {
  REALLY(rows)->finish(REAL(rows));
  for (guint i = 0; FAKE(rows)->kept && i < FAKE(rows)->kept->len; i++) {
    struct fake_value *all = FAKE(rows)->kept->pdata[i];
    for (int c = 0; c < FAKE(rows)->columns; c++) {
      g_free(all[c].text);
      g_bytes_unref(all[c].bytes);
    }
    g_free(all);
  }
  if (FAKE(rows)->kept)
    g_ptr_array_unref(FAKE(rows)->kept);
  g_free(rows);
}

static const struct fake_value *fake_value_at(struct ew_port_rows *rows, int column) {
  const struct fake_value *all = FAKE(rows)->kept->pdata[FAKE(rows)->left - 1];
  return &all[column];
}

static int fake_columns(struct ew_port_rows *rows) {
  return FAKE(rows)->columns;
}
static gboolean fake_is_null(struct ew_port_rows *rows, int i) {
  return FAKE(rows)->kept ? fake_value_at(rows, i)->is_null : REALLY(rows)->is_null(REAL(rows), i);
}
static gint64 fake_number(struct ew_port_rows *rows, int i) {
  return FAKE(rows)->kept ? fake_value_at(rows, i)->number : REALLY(rows)->number(REAL(rows), i);
}
static double fake_real(struct ew_port_rows *rows, int i) {
  return FAKE(rows)->kept ? fake_value_at(rows, i)->real : REALLY(rows)->real(REAL(rows), i);
}
static const char *fake_text(struct ew_port_rows *rows, int i) {
  return FAKE(rows)->kept ? fake_value_at(rows, i)->text : REALLY(rows)->text(REAL(rows), i);
}
static const void *fake_bytes(struct ew_port_rows *rows, int i, gsize *size) {
  return FAKE(rows)->kept ? g_bytes_get_data(fake_value_at(rows, i)->bytes, size)
                          : REALLY(rows)->bytes(REAL(rows), i, size);
}

static gboolean fake_fill(struct ew_port *port, const char *table, const char *column, gint64 id,
                          const void *data, gsize size, GError **error) {
  struct fake *f = fake_of(port);
  enum ew_port_answer answer = fake_strikes(f, error);
  f->port.again |= answer == EW_PORT_AGAIN;
  return answer == EW_PORT_DONE &&
         f->real->class->fill(f->real, table, column, id, data, size, error);
}

static gboolean fake_change(struct ew_port *port, struct ew_port_change *change, GError **error) {
  return fake_of(port)->real->class->change(fake_of(port)->real, change, error);
}
static gboolean fake_durable(struct ew_port *port, gboolean power, GError **error) {
  return fake_of(port)->real->class->durable(fake_of(port)->real, power, error);
}
static gboolean fake_checkpoint(struct ew_port *port, gboolean all, GError **error) {
  return fake_of(port)->real->class->checkpoint(fake_of(port)->real, all, error);
}
static gint64 fake_size(struct ew_port *port, GError **error) {
  return fake_of(port)->real->class->size(fake_of(port)->real, error);
}
static gboolean fake_copy(struct ew_port *port, const char *path, GError **error) {
  return fake_of(port)->real->class->copy(fake_of(port)->real, path, error);
}
static gboolean fake_check(struct ew_port *port, void (*fault)(const char *, gpointer),
                           gpointer user, GError **error) {
  return fake_of(port)->real->class->check(fake_of(port)->real, fault, user, error);
}
static void fake_watch(struct ew_port *port, int (*asked)(void *), void *user, int often) {
  fake_of(port)->real->class->watch(fake_of(port)->real, asked, user, often);
}
static void fake_close(struct ew_port *port) {
  fake_of(port)->real->class->close(fake_of(port)->real);
  g_free(port);
}

static const struct ew_port_class fake_class = {
    .name = "fake",
    .close = fake_close,
    .begin = fake_begin,
    .commit = fake_commit,
    .rollback = fake_rollback,
    .is_open = fake_is_open,
    .prepare = fake_prepare,
    .bind = fake_bind,
    .step = fake_step,
    .finish = fake_finish,
    .columns = fake_columns,
    .is_null = fake_is_null,
    .number = fake_number,
    .real = fake_real,
    .text = fake_text,
    .bytes = fake_bytes,
    .fill = fake_fill,
    .change = fake_change,
    .durable = fake_durable,
    .checkpoint = fake_checkpoint,
    .size = fake_size,
    .copy = fake_copy,
    .check = fake_check,
    .watch = fake_watch,
};

static struct ew_port *fake_over(struct ew_port *real) {
  struct fake *f = g_new0(struct fake, 1);
  f->port.class = &fake_class;
  f->real = real;
  return &f->port;
}
