/* Modbus coils, GPIO lines, FIFOs and devices of one output. Each call may wait (300 ms for a coil's answer), so
 * only the outputs' own thread calls. A path is opened folder by folder without following links, and an ordinary
 * file is never written. */
#include "cell/output_drive.h"
#include "base/error.h"
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

static char *set_coil(const struct ew_output_spec *spec) {
  g_autofree char *host = NULL;
  g_autoptr(GError) error = NULL;
  int port, unit, address;
  if (!coil_url(spec->to, &host, &port, &unit, &address, &error))
    return g_strdup(error->message);
  modbus_t *bus = modbus_new_tcp(host, port);
  char *why = NULL;
  if (!bus)
    return g_strdup_printf("%s: %s", spec->to, modbus_strerror(errno));
  modbus_set_slave(bus, unit);
  modbus_set_response_timeout(bus, 0, ANSWER_MS * 1000);
  if (modbus_connect(bus) != 0 || modbus_write_bit(bus, address, spec->on) != 1)
    why = g_strdup(modbus_strerror(errno));
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
static char *write_file(const struct ew_output_spec *spec) {
  g_auto(GStrv) parts = g_strsplit(spec->to, "/", 64);
  guint count = g_strv_length(parts);
  if (spec->to[0] != '/' || count < 2)
    return g_strdup_printf("%s: write the whole path, from / on", spec->to);
  int folder = open_folder(parts);
  if (folder < 0)
    return g_strdup_printf("%s: %s", spec->to,
                           errno == ENOTDIR || errno == ELOOP
                               ? "the way there is no folder, or a link"
                               : g_strerror(errno));
  int file =
      openat(folder, parts[count - 1], O_WRONLY | O_NONBLOCK | O_NOFOLLOW | O_NOCTTY | O_CLOEXEC);
  int why_not = errno;
  close(folder);
  if (file < 0)
    return g_strdup_printf("%s: %s", spec->to,
                           why_not == ELOOP   ? "is a link: name what it leads to"
                           : why_not == ENXIO ? "nobody reads it"
                                              : g_strerror(why_not));
  struct stat facts;
  gssize size = (gssize)strlen(spec->line);
  char *why = NULL;
  if (fstat(file, &facts) != 0 || !(S_ISFIFO(facts.st_mode) || S_ISCHR(facts.st_mode)))
    why =
        g_strdup_printf("%s: is neither a FIFO nor a device: nothing is written into it", spec->to);
  else if (write(file, spec->line, (gsize)size) != size)
    why = g_strdup_printf("%s: %s", spec->to, g_strerror(errno));
  close(file);
  return why;
}

char *ew_output_drive(const struct ew_output_spec *spec, struct ew_gpio_lines *lines) {
  switch ((enum ew_output_kind)spec->kind) {
  case EW_OUTPUT_COIL: return set_coil(spec);
  case EW_OUTPUT_GPIO: return ew_gpio_drive(lines, spec->to, spec->on);
  case EW_OUTPUT_FILE: return write_file(spec);
  case EW_OUTPUT_SEND: break; /* driven by whoever has the sources */
  }
  g_assert_not_reached();
}
