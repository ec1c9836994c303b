/* readings.c - any bytes as readings.csv: faults with their places, or a job. */
#include "place.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    place_one("readings.csv", bytes, size);
    fw_job_free(place_read());
    return 0;
}
