import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.context.support.IValidationSupport.IssueSeverity;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.SingleValidationMessage;
import com.google.gson.JsonObject;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import java.util.stream.Stream;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.PrePopulatedValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.UnknownCodeSystemWarningValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;

/**
 * Judges every .json file of a folder by the R4 definitions, without any server; `java Judge DEFINITIONS FOLDER`.
 *
 * DEFINITIONS holds our own CodeSystem and ValueSet. Prints one JSON object for each issue and one for each file.
 */
public final class Judge {
    private static final FhirContext R4 = FhirContext.forR4();

    public static void main(String[] folders) throws Exception {
        PrintStream out = new PrintStream(System.out, true, "UTF-8");
        FhirValidator validator = validator(Path.of(folders[0]));
        ExecutorService pool = Executors.newFixedThreadPool(2);
        List<Future<List<String>>> judged = new ArrayList<>();
        for (Path file : jsonFiles(Path.of(folders[1]))) {
            judged.add(pool.submit(() -> judge(validator, file)));
        }
        pool.shutdown(); // else its threads would keep the process when a file cannot be judged
        for (Future<List<String>> lines : judged) {
            lines.get().forEach(out::println);
        }
    }

    private static FhirValidator validator(Path definitions) throws IOException {
        PrePopulatedValidationSupport ours = new PrePopulatedValidationSupport(R4);
        for (Path file : jsonFiles(definitions)) {
            ours.addResource(R4.newJsonParser().parseResource(Files.readString(file)));
        }
        UnknownCodeSystemWarningValidationSupport unknown = new UnknownCodeSystemWarningValidationSupport(R4);
        unknown.setNonExistentCodeSystemSeverity(IssueSeverity.WARNING);
        FhirInstanceValidator rules = new FhirInstanceValidator(new ValidationSupportChain(
                new DefaultProfileValidationSupport(R4),
                ours,
                new CommonCodeSystemsTerminologyService(R4),
                new InMemoryTerminologyServerValidationSupport(R4),
                new SnapshotGeneratingValidationSupport(R4),
                unknown));
        rules.setErrorForUnknownProfiles(false);
        return R4.newValidator().registerValidatorModule(rules);
    }

    private static List<Path> jsonFiles(Path folder) throws IOException {
        try (Stream<Path> files = Files.list(folder)) {
            return files.filter(file -> file.toString().endsWith(".json")).sorted().toList();
        }
    }

    private static List<String> judge(FhirValidator validator, Path file) throws IOException {
        List<String> lines = new ArrayList<>();
        String name = file.getFileName().toString();
        try {
            for (SingleValidationMessage found : validator.validateWithResult(Files.readString(file)).getMessages()) {
                if (found.getSeverity() != ResultSeverityEnum.INFORMATION) {
                    lines.add(line(name, found.getSeverity().getCode(), found.getMessageId(),
                            found.getLocationString(), found.getMessage()));
                }
            }
        } catch (RuntimeException broken) { // the validator itself falls over some broken narratives
            lines.add(line(name, "fatal", "judge-broke-off", "", broken.toString()));
        }
        JsonObject done = new JsonObject();
        done.addProperty("file", name);
        done.addProperty("judged", true);
        lines.add(done.toString());
        return lines;
    }

    private static String line(String file, String severity, String rule, String place, String text) {
        JsonObject line = new JsonObject();
        line.addProperty("file", file);
        line.addProperty("severity", severity);
        line.addProperty("rule", rule);
        line.addProperty("place", place);
        line.addProperty("text", text);
        return line.toString();
    }
}
