/* The kernel's GPIO interface, version 2, through a call that tests replace. A line stays ours until the outputs are
 * freed; a failure of the kernel is an answer. */
#include "cell/output_gpio.h"
#include "base/error.h"
#include <errno.h>
#include <fcntl.h>
#include <linux/gpio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

struct ew_gpio_lines {
  ew_gpio_call call;
  GHashTable *held; /* "chip:line" -> descriptor of the line */
};

static int kernel(int file, unsigned long request, void *argument) {
  return ioctl(file, request, argument);
}

static void let_go(gpointer file) {
  close(GPOINTER_TO_INT(file));
}

struct ew_gpio_lines *ew_gpio_lines_new(ew_gpio_call call) {
  struct ew_gpio_lines *lines = g_new0(struct ew_gpio_lines, 1);
  lines->call = call ? call : kernel;
  lines->held = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, let_go);
  return lines;
}

void ew_gpio_lines_free(struct ew_gpio_lines *lines) {
  if (!lines)
    return;
  g_hash_table_unref(lines->held);
  g_free(lines);
}

gboolean ew_gpio_name(const char *to, char **chip, int *line, GError **error) {
  const char *colon = to ? strrchr(to, ':') : NULL;
  guint64 number;
  if (!colon || !g_str_has_prefix(to, "/dev/gpiochip") ||
      !g_ascii_string_to_unsigned(colon + 1, 10, 0, 1023, &number, NULL))
    return ew_refuse(error, "'%s': write /dev/gpiochipN:LINE, for example /dev/gpiochip0:17",
                     to ? to : "");
  *chip = g_strndup(to, (gsize)(colon - to));
  *line = (int)number;
  return TRUE;
}

/* Asks the chip for the line as an output that begins with this state; its descriptor, or -1. */
static int request_line(struct ew_gpio_lines *lines, const char *chip, int line, gboolean on) {
  int file = open(chip, O_RDWR | O_CLOEXEC);
  if (file < 0)
    return -1;
  struct gpio_v2_line_request request = {.num_lines = 1, .consumer = "enginewright"};
  request.offsets[0] = (guint32)line;
  request.config.flags = GPIO_V2_LINE_FLAG_OUTPUT;
  request.config.num_attrs = 1;
  request.config.attrs[0].mask = 1;
  request.config.attrs[0].attr.id = GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES;
  request.config.attrs[0].attr.values = on ? 1 : 0;
  int answer = lines->call(file, GPIO_V2_GET_LINE_IOCTL, &request), why = errno;
  close(file);
  errno = why;
  return answer < 0 ? -1 : request.fd;
}

static gboolean set_line(struct ew_gpio_lines *lines, int held, gboolean on) {
  struct gpio_v2_line_values values = {.bits = on ? 1 : 0, .mask = 1};
  return lines->call(held, GPIO_V2_LINE_SET_VALUES_IOCTL, &values) >= 0;
}

EW_MESSAGE(line_error, "cell.gpio-error", EW_DANGER, "{line}: {error}");
EW_MESSAGE(line_busy, "cell.gpio-busy", EW_DANGER, "{line}: another program holds this line");
EW_MESSAGE(not_a_chip, "cell.gpio-not-a-chip", EW_DANGER, "{line}: not a GPIO chip");

static ew_message *failed(const char *key, int error) {
  return ew_message(&line_error, ew_say_text("line", key), ew_say_text("error", g_strerror(error)));
}

ew_message *ew_gpio_drive_on(struct ew_gpio_lines *lines, const char *chip, const char *key,
                             int line, gboolean on) {
  gpointer held;
  g_assert(lines && chip && line >= 0);
  if (g_hash_table_lookup_extended(lines->held, key, NULL, &held))
    return set_line(lines, GPOINTER_TO_INT(held), on) ? NULL : failed(key, errno);
  int file = request_line(lines, chip, line, on);
  if (file < 0)
    return errno == EBUSY    ? ew_message(&line_busy, ew_say_text("line", key))
           : errno == ENOTTY ? ew_message(&not_a_chip, ew_say_text("line", key))
                             : failed(key, errno);
  g_hash_table_insert(lines->held, g_strdup(key), GINT_TO_POINTER(file));
  return NULL;
}

ew_message *ew_gpio_drive(struct ew_gpio_lines *lines, const char *to, gboolean on) {
  g_autofree char *chip = NULL;
  g_autoptr(GError) error = NULL;
  int line;
  return ew_gpio_name(to, &chip, &line, &error) ? ew_gpio_drive_on(lines, chip, to, line, on)
                                                : ew_message(&line_error, ew_say_text("line", to),
                                                             ew_say_text("error", error->message));
}
