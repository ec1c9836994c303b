/* settings.c - any bytes as job.ini: faults with their places, or a job. */
#include "place.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    place_one("job.ini", bytes, size);
    fw_job_free(place_read());
    return 0;
}
