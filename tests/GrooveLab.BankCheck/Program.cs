using System.Globalization;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Testing.Sound;

CultureInfo.CurrentCulture = CultureInfo.InvariantCulture;
if (args.Length == 0 || args[0] is "-h" or "--help")
{
    Console.Error.WriteLine("Usage: GrooveLab.BankCheck BANK...: plays every program of each bank here and in fluidsynth and prints how they differ.");
    return 2;
}

Console.WriteLine("""
    Differences to fluidsynth, the known ones taken out: median, and how far nine in ten and 99 in 100 lie from it. Level in dB, pitch of the
    strongest partial in cents, levels of third-octaves in dB with the difference in level taken out. Spread: standard deviation of the levels of
    programs 1 to 120 at key 60 in dB, with 0.4 of the attenuation and with all of it.

    | bank | presets | notes | level | nine in ten | 99 in 100 | cents, nine in ten | 99 in 100 | bands, nine in ten | spread at 0.4 | at 1 |
    |---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|
    """);
var faults = new List<string>();
var worst = new List<string>();
foreach (var path in args)
{
    var name = Path.GetFileName(path);
    try
    {
        var found = BankComparison.Run(path);
        var written = BankComparison.Run(path, attenuationShare: 1, keys: [BankComparison.MiddleKey]);
        Console.WriteLine(
            $"| {name} | {found.Presets} | {found.Notes.Count} | {found.Level.Median:F2} | {found.Level.Within(0.9):F2} | {found.Level.Within(0.99):F2} "
            + $"| {found.Pitch.Within(0.9):F2} | {found.Pitch.Within(0.99):F2} | {found.Band.Within(0.9):F2} | {found.Spread:F2} | {written.Spread:F2} |");
        faults.AddRange(found.Faults.Select(fault => $"{name}: {fault}"));
        worst.AddRange(found.Notes.OrderByDescending(note => Math.Abs(note.LevelDifference)).Take(3)
            .Select(note => $"{name}: {note.Bank}:{note.Program} {note.Name}, key {note.Key}: level {note.LevelDifference:+0.0;-0.0} dB"));
    }
    catch (SoundFontException problem)
    {
        faults.Add(problem.Message);
    }
}

Console.WriteLine("\nThe three notes of each bank whose levels differ most:\n");
worst.ForEach(line => Console.WriteLine($"- {line}"));
Console.WriteLine(faults.Count == 0 ? "\nAll within the bounds." : "\nOutside the bounds:\n");
faults.ForEach(line => Console.WriteLine($"- {line}"));
return faults.Count == 0 ? 0 : 1;
