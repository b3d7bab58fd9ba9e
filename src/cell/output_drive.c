#include "cell/output_drive.h"
#include "base/error.h"
#include <errno.h>
#include <fcntl.h>
#include <modbus.h>
#include <stdio.h>
#include <string.h>
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

static char *write_file(const struct ew_output_spec *spec) {
  int file = open(spec->to, O_WRONLY | O_CLOEXEC);
  gssize size = (gssize)strlen(spec->line);
  char *why =
      file < 0 || write(file, spec->line, (gsize)size) != size ? g_strdup(g_strerror(errno)) : NULL;
  if (file >= 0)
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
