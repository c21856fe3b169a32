// What every page does beyond its HTML. Without scripts all of it still works.
import { keepTimeLeft } from "./timeleft.js";
import { sendOnce, guardUnsaved, takeFocus } from "./forms.js";

takeFocus(document);
sendOnce(document);
guardUnsaved(document);
keepTimeLeft(document);
