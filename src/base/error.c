/* error.c - a status and its line of text. */
#include <stdarg.h>
#include <stdio.h>

#include "flatwright/status.h"

fw_status fw_fail(fw_error *err, fw_status status, const char *format, ...)
{
    if (err) {
        va_list args;
        va_start(args, format);
        vsnprintf(err->text, sizeof err->text, format, args);
        va_end(args);
        err->status = status;
    }
    return status;
}

fw_status fw_out_of_memory(fw_error *err)
{
    return fw_fail(err, FW_SYSTEM, "out of memory");
}
