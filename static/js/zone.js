/* Offer the zone this device is set to, as long as none is chosen. */
const field = document.querySelector("select[name=time_zone]");
const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (field && !field.value && [...field.options].some((option) => option.value === here)) field.value = here;
