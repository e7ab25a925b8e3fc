using GrooveLab.Audio.Playback;
using GrooveLab.Store;

namespace GrooveLab.Inputs;

/// <summary>Reports problems on standard error, one line each.</summary>
internal static class HealthReport
{
    /// <summary>Reports the problems of playing or rendering.</summary>
    /// <param name="health">The summary; <see cref="TellFailures"/> reports the failures in it.</param>
    /// <param name="of">What was played, such as a file's name; null if there is only one.</param>
    public static void Tell(Health health, string? of = null)
    {
        foreach (var entry in health.Entries.Where(entry => entry.Kind != HealthKind.Failure))
        {
            Console.Error.WriteLine($"groovelab: {(of is null ? string.Empty : of + ": ")}{entry.Words}");
        }
    }

    /// <summary>Reports the failures that the program survived, and the file with their details; once, at the end.</summary>
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
