// The components of the app. Each writes through the API; none keeps anything that the records do not.
import "/look/forms.js";
import "/look/waits-for.js";
import "/look/bring-in.js";
import "/look/chart-entry.js";
import "/look/level-profile.js";
import "/look/chair-side.js";
import "/look/visit-entry.js";
import "/look/readings-list.js";
import "/look/scan-readings.js";
import "/look/photo-measuring.js";
import "/look/template-maker.js";
