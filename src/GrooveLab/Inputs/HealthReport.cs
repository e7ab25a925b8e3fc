using GrooveLab.Audio.Playback;
using GrooveLab.Store;

namespace GrooveLab.Inputs;

/// <summary>Tells on standard error what went wrong, a line each, when anything did.</summary>
internal static class HealthReport
{
    /// <summary>Tells what went wrong while something was played.</summary>
    /// <param name="health">The summary; the failures in it are told by <see cref="TellFailures"/>.</param>
    /// <param name="of">Whose it is, such as a file's name; null where there is only one.</param>
    public static void Tell(Health health, string? of = null)
    {
        foreach (var entry in health.Entries.Where(entry => entry.Kind != HealthKind.Failure))
        {
            Console.Error.WriteLine($"groovelab: {(of is null ? string.Empty : of + ": ")}{entry.Words}");
        }
    }

    /// <summary>Tells the failures that the program has survived, and where their details are; said once, at its end.</summary>
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
