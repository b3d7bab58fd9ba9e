/* A GPIO line as an output, through the kernel's character device: linux/gpio.h, version 2 of the interface.
 *
 * A line is asked for once, as an output with the wanted state, and held until the outputs are freed: the
 * kernel lets go of it when this program ends, and what the pin does then is the chip's own affair, so a
 * stop circuit has to be safe with the pin let go. It asks; it is not a safety device. */
#pragma once
#include "base/message.h"

struct ew_gpio_lines;
/* The call to the kernel, so that tests can stand in its place; NULL: ioctl itself. */
typedef int (*ew_gpio_call)(int file, unsigned long request, void *argument);
struct ew_gpio_lines *ew_gpio_lines_new(ew_gpio_call call);
void ew_gpio_lines_free(struct ew_gpio_lines *lines);

/* Parts of "/dev/gpiochip0:17"; chip is freed by the caller. */
gboolean ew_gpio_name(const char *to, char **chip, int *line, GError **error);
/* The same once the name is taken apart; `key` names the held line. */
ew_message *ew_gpio_drive_on(struct ew_gpio_lines *lines, const char *chip, const char *key,
                             int line, gboolean on);
/* Drives a line; NULL when done, else why not, freed by the caller. */
ew_message *ew_gpio_drive(struct ew_gpio_lines *lines, const char *to, gboolean on);
