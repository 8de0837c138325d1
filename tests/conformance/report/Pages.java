import java.io.FileInputStream;
import java.util.List;
import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.PDFAParser;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.TestAssertion;
import org.verapdf.pdfa.results.ValidationResult;

/** Judges each named file by ISO 19005-2 level A and by ISO 14289-1; exit code 1 when one breaks a rule. */
public final class Pages {
    private static final List<PDFAFlavour> STANDARDS = List.of(PDFAFlavour.PDFA_2_A, PDFAFlavour.PDFUA_1);

    public static void main(String[] files) throws Exception {
        VeraGreenfieldFoundryProvider.initialise();
        int passed = 0;
        int failed = 0;
        for (String file : files) {
            for (PDFAFlavour standard : STANDARDS) {
                if (holds(file, standard)) {
                    passed++;
                } else {
                    failed++;
                }
            }
        }
        System.out.println(passed + " passed, " + failed + " failed");
        System.exit(failed > 0 || passed == 0 ? 1 : 0);
    }

    private static boolean holds(String file, PDFAFlavour standard) throws Exception {
        try (PDFAParser parser = Foundries.defaultInstance().createParser(new FileInputStream(file), standard)) {
            ValidationResult result = Foundries.defaultInstance().createValidator(standard, false).validate(parser);
            for (TestAssertion fault : result.getTestAssertions()) {
                System.out.println(file + ": " + fault.getRuleId() + ": " + fault.getMessage());
            }
            return result.isCompliant();
        }
    }
}
