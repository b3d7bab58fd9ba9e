/* Modbus coils, GPIO lines, FIFOs and devices of one output. Each call may wait (300 ms for a coil's answer), so
 * only the outputs' own thread calls. A path is opened folder by folder without following links, and an ordinary
 * file is never written. */
#include "cell/output_drive.h"
#include "base/error.h"
#include "cell/source.h"
#include <errno.h>
#include <fcntl.h>
#include <modbus.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define ANSWER_MS 300

/* Parts of modbus://HOST:PORT/UNIT/coil/ADDRESS; host is freed by the caller. */
static gboolean coil_url(const char *url, char **host, int *port, int *unit, int *address,
                         GError **error) {
  char name[128];
  if (sscanf(url, "modbus://%127[^:/]:%d/%d/coil/%d", name, port, unit, address) != 4 ||
      *port < 1 || *port > 65535 || *unit < 0 || *unit > 255 || *address < 0 || *address > 65535)
    return ew_refuse(error, "'%s': write modbus://HOST:PORT/UNIT/coil/ADDRESS", url);
  *host = g_strdup(name);
  return TRUE;
}

EW_MESSAGE(error_at, "cell.output-error", EW_DANGER, "{to}: {error}");
EW_MESSAGE(not_whole, "cell.output-path-not-whole", EW_DANGER,
           "{to}: write the whole path, starting with /");
EW_MESSAGE(no_folder, "cell.output-folder", EW_DANGER,
           "{to}: a part of the path is a link or not a folder");
EW_MESSAGE(a_link, "cell.output-link", EW_DANGER, "{to}: is a link; name what it points to");
EW_MESSAGE(no_reader, "cell.output-no-reader", EW_DANGER, "{to}: nothing reads it");
EW_MESSAGE(not_a_device, "cell.output-not-a-device", EW_DANGER,
           "{to}: neither a FIFO nor a device; nothing was written to it");

static ew_message *failed(const struct ew_output_spec *spec, const char *error) {
  return ew_message(&error_at, ew_say_text("to", spec->to), ew_say_text("error", error));
}

static ew_message *set_coil(const struct ew_output_spec *spec) {
  g_autofree char *host = NULL;
  g_autoptr(GError) error = NULL;
  int port, unit, address;
  if (!coil_url(spec->to, &host, &port, &unit, &address, &error))
    return ew_message(&ew_source_error, ew_say_text("error", error->message));
  modbus_t *bus = modbus_new_tcp(host, port);
  ew_message *why = NULL;
  if (!bus)
    return failed(spec, modbus_strerror(errno));
  modbus_set_slave(bus, unit);
  modbus_set_response_timeout(bus, 0, ANSWER_MS * 1000);
  if (modbus_connect(bus) != 0 || modbus_write_bit(bus, address, spec->on) != 1)
    why = failed(spec, modbus_strerror(errno));
  modbus_close(bus);
  modbus_free(bus);
  return why;
}

/* The folder that holds the last part of an absolute path, reached without following a link. */
static int open_folder(char **parts) {
  int folder = open("/", O_PATH | O_DIRECTORY | O_CLOEXEC);
  for (guint i = 1; folder >= 0 && parts[i] && parts[i + 1]; i++) {
    int next = openat(folder, parts[i], O_PATH | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    int why = errno;
    close(folder);
    errno = why;
    folder = next;
  }
  return folder;
}

/* Only into a FIFO that somebody reads, or a device; never into a file, never through a link. */
static ew_message *write_file(const struct ew_output_spec *spec) {
  g_auto(GStrv) parts = g_strsplit(spec->to, "/", 64);
  guint count = g_strv_length(parts);
  if (spec->to[0] != '/' || count < 2)
    return ew_message(&not_whole, ew_say_text("to", spec->to));
  int folder = open_folder(parts);
  if (folder < 0)
    return errno == ENOTDIR || errno == ELOOP ? ew_message(&no_folder, ew_say_text("to", spec->to))
                                              : failed(spec, g_strerror(errno));
  int file =
      openat(folder, parts[count - 1], O_WRONLY | O_NONBLOCK | O_NOFOLLOW | O_NOCTTY | O_CLOEXEC);
  int why_not = errno;
  close(folder);
  if (file < 0)
    return why_not == ELOOP   ? ew_message(&a_link, ew_say_text("to", spec->to))
           : why_not == ENXIO ? ew_message(&no_reader, ew_say_text("to", spec->to))
                              : failed(spec, g_strerror(why_not));
  struct stat facts;
  gssize size = (gssize)strlen(spec->line);
  ew_message *why = NULL;
  if (fstat(file, &facts) != 0 || !(S_ISFIFO(facts.st_mode) || S_ISCHR(facts.st_mode)))
    why = ew_message(&not_a_device, ew_say_text("to", spec->to));
  else if (write(file, spec->line, (gsize)size) != size)
    why = failed(spec, g_strerror(errno));
  close(file);
  return why;
}

ew_message *ew_output_drive(const struct ew_output_spec *spec, struct ew_gpio_lines *lines) {
  switch ((enum ew_output_kind)spec->kind) {
  case EW_OUTPUT_COIL: return set_coil(spec);
  case EW_OUTPUT_GPIO: return ew_gpio_drive(lines, spec->to, spec->on);
  case EW_OUTPUT_FILE: return write_file(spec);
  case EW_OUTPUT_SEND: break; /* driven by whoever has the sources */
  }
  g_assert_not_reached();
}
