using GrooveLab.Audio.Playback;
using GrooveLab.Store;

namespace GrooveLab.Inputs;

/// <summary>Writes problems to standard error, one line each.</summary>
internal static class HealthReport
{
    /// <summary>Writes the problems of something that was played.</summary>
    /// <param name="health">The problems; failures are left to <see cref="TellFailures"/>.</param>
    /// <param name="of">The name of the file; null if there is only one.</param>
    public static void Tell(Health health, string? of = null)
    {
        foreach (var entry in health.Entries.Where(entry => entry.Kind != HealthKind.Failure))
        {
            Console.Error.WriteLine($"groovelab: {(of is null ? string.Empty : of + ": ")}{entry.Words}");
        }
    }

    /// <summary>Writes the failures that the program has survived, and where their details are. Called once, at its end.</summary>
    public static void TellFailures()
    {
        var written = Survived.Write(last: true);
        var failures = Survived.Failures.All;
        foreach (var failure in failures)
        {
            Console.Error.WriteLine("groovelab: " + failure);
        }

        if (failures.Count > 0 && written)
        {
            Console.Error.WriteLine($"groovelab: details in {Survived.File.Path}");
        }
    }
}
