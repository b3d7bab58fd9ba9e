/* The file of this machine's outputs: found, judged (owner, mode, size, kind of file) before it is believed, kept by
 * replacing it whole. A file that somebody else could have written is refused, because what stands in it stops an
 * engine. */
#include "cell/output_machine.h"
#include "base/language.h"
#include "base/words.h"
#include "base/error.h"
#include "base/machine.h"
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define NAME      "outputs.yaml"
#define SIZE_MOST 65536

/* words: names of the usual outputs */
static const char *const usual_names[] G_GNUC_UNUSED = {EW_TEXT("shut the throttle"),
                                                        EW_TEXT("stop the engine")};
const char ew_outputs_usual[] =
    "# What a shut-down asks for, in this order; a line goes back to the source, a coil to a "
    "Modbus device.\n"
    "# The load is never asked off before speed is down. These ask, and are no safety device.\n"
    "outputs:\n"
    "  - {name: shut the throttle, kind: send, line: throttle 0}\n"
    "  - {name: stop the engine, kind: send, line: stop, speed_below: 1500 rpm}\n"
    "heartbeat: {every: 0.2 s, line: heartbeat}\n";

char *ew_outputs_path(void) {
  return ew_machine_path(NAME);
}

static gboolean whole_path(const char *path) {
  g_autofree char *plain = g_canonicalize_filename(path, "/");
  return path[0] == '/' && strcmp(plain, path) == 0;
}

struct ew_alarm_table *ew_outputs_parse(const char *text, const char *where, GError **error) {
  static const struct ew_alarm_context unknown = {NAN, NAN, NAN, NAN, NAN};
  g_autoptr(ew_node) root = ew_node_parse(where, text, strlen(text), error);
  g_autoptr(ew_alarm_table) table = root ? ew_alarm_table_read(root, where, &unknown, error) : NULL;
  if (!table)
    return NULL;
  if (table->alarms->len) {
    ew_refuse(error, "%s: outputs and heartbeat only: alarms are kept in the book", where);
    return NULL;
  }
  for (guint i = 0; i < table->outputs->len; i++) {
    const struct ew_output_spec *one = &g_array_index(table->outputs, struct ew_output_spec, i);
    if (one->kind != EW_OUTPUT_FILE || whole_path(one->to))
      continue;
    ew_refuse(error, "%s: '%s': '%s': write the whole path of a FIFO or a device, from / on", where,
              one->name, one->to);
    return NULL;
  }
  return g_steal_pointer(&table);
}

/* Why this file is not one to be believed; NULL: it is. */
static const char *doubt(const struct stat *facts) {
  return !S_ISREG(facts->st_mode)     ? EW_TEXT("is not a regular file")
         : facts->st_uid != geteuid() ? EW_TEXT("belongs to another user")
         : facts->st_mode & 077       ? EW_TEXT("is open to others: read it, then chmod 600 it")
         : facts->st_nlink != 1
             ? EW_TEXT("has a second name: remove it and confirm the outputs again")
         : facts->st_size > SIZE_MOST ? EW_TEXT("is longer than 64 kB")
                                      : NULL;
}

static char *read_own(const char *path, GError **error) {
  int file = open(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
  struct stat facts;
  char *text = NULL;
  if (file < 0) {
    ew_refuse(error, "%s: %s", path, errno == ELOOP ? "is a link" : g_strerror(errno));
    return NULL;
  }
  const char *why = fstat(file, &facts) == 0 ? doubt(&facts) : g_strerror(errno);
  if (why)
    ew_refuse(error, "%s: %s; no output is driven by it", path, why);
  else {
    text = g_malloc0(SIZE_MOST + 1);
    if (read(file, text, SIZE_MOST) != facts.st_size) {
      ew_refuse(error, "%s: could not be read completely", path);
      g_clear_pointer(&text, g_free);
    }
  }
  close(file);
  return text;
}

struct ew_alarm_table *ew_outputs_of_machine(char **from, GError **error) {
  g_autofree char *path = ew_outputs_path();
  struct stat facts;
  *from = NULL;
  if (lstat(path, &facts) != 0 && (errno == ENOENT || errno == ENOTDIR)) {
    *from = g_strdup(ew_tr("the usual lines"));
    return ew_outputs_parse(ew_outputs_usual, *from, error);
  }
  g_autofree char *text = read_own(path, error);
  struct ew_alarm_table *table = text ? ew_outputs_parse(text, path, error) : NULL;
  if (table)
    *from = g_steal_pointer(&path);
  return table;
}

gboolean ew_outputs_keep(const char *text, GError **error) {
  g_autoptr(ew_alarm_table) table = ew_outputs_parse(text, "outputs", error);
  if (!table)
    return FALSE;
  if (strlen(text) > SIZE_MOST)
    return ew_refuse(error, "outputs: longer than 64 kB");
  return ew_machine_write(NAME, text, error); /* a link of this name is replaced, not followed */
}

gboolean ew_outputs_forget(GError **error) {
  g_autofree char *path = ew_outputs_path();
  return g_unlink(path) == 0 || errno == ENOENT ||
         ew_fail(error, "%s: %s", path, g_strerror(errno));
}

char *ew_output_does(const struct ew_output_spec *s) {
  g_autofree char *what = NULL;
  switch ((enum ew_output_kind)s->kind) {
  case EW_OUTPUT_SEND:
    what = ew_words("sends the line '%s' to each source named with control=yes", s->line);
    break;
  case EW_OUTPUT_COIL: what = ew_words("switches %s %s", s->to, s->on ? "ON" : "OFF"); break;
  case EW_OUTPUT_GPIO:
    what = ew_words("drives %s %s, and releases it when the session ends", s->to,
                    s->on ? "ON" : "OFF");
    break;
  case EW_OUTPUT_FILE:
    what = ew_words("writes '%s' into %s, a FIFO or a device", s->line, s->to);
    break;
  }
  g_autofree char *when = isnan(s->speed_below_rpm)
                              ? g_strdup(ew_tr("at once"))
                              : ew_words("when speed is below %#.0f rpm", s->speed_below_rpm);
  return g_strdup_printf("%s: %s%s", when, what,
                         s->releases_load ? ew_tr("; this takes the load off") : "");
}
