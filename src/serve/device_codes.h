/* The one-time code by which a device is paired, and who guessed wrong. Not thread-safe: devices.c guards it. See devices.h. */
#pragma once
#include "serve/devices.h"

struct ew_device_codes; /* opaque */
struct ew_device_codes *ew_device_codes_new(void);
void ew_device_codes_free(struct ew_device_codes *codes);
/* A new code; an older one dies. */
const char *ew_device_codes_make(struct ew_device_codes *codes, enum ew_rights rights);
/* Whether this is the code, in constant time; a wrong guess is counted for the address. With an error when not. */
gboolean ew_device_codes_fits(struct ew_device_codes *codes, guint32 address, const char *code,
                              enum ew_rights *rights, GError **error);
/* It was used. */
void ew_device_codes_end(struct ew_device_codes *codes);
