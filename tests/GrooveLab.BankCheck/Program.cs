using System.Globalization;
using GrooveLab.Testing.Sound;

CultureInfo.CurrentCulture = CultureInfo.InvariantCulture;
foreach (var path in args)
{
    foreach (var scale in new[] { 0.4f, 1f })
    {
        var watch = System.Diagnostics.Stopwatch.StartNew();
        var comparison = BankComparison.Run(path, scale);
        var notes = comparison.Notes;
        var levels = notes.Select(note => note.LevelDifference).ToList();
        var cents = notes.Select(note => note.Cents).OfType<double>().ToList();
        var bands = notes.SelectMany(note => note.Bands).ToList();
        var middle = notes.Where(note => note.Bank == 0 && note.Key == 60 && note.Program < 120 && note.Level > -70).Select(note => note.Level).ToList();
        var mean = middle.Average();
        Console.WriteLine($"{Path.GetFileName(path)} x{scale}: {comparison.Presets} presets {notes.Count} notes {watch.Elapsed.TotalSeconds:F0} s; spread {Math.Sqrt(middle.Average(l => (l - mean) * (l - mean))):F2} dB, 10-90% {BankComparison.Quantile(middle, 0.9) - BankComparison.Quantile(middle, 0.1):F1}");
        Console.WriteLine($"  level {string.Join(' ', new[] { 0, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 1 }.Select(q => BankComparison.Quantile(levels, q).ToString("F2")))}");
        Console.WriteLine($"  cents {cents.Count}: {string.Join(' ', new[] { 0, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 1 }.Select(q => BankComparison.Quantile(cents, q).ToString("F2")))}");
        Console.WriteLine($"  bands {bands.Count}: {string.Join(' ', new[] { 0, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 1 }.Select(q => BankComparison.Quantile(bands, q).ToString("F2")))}");
        foreach (var note in notes.OrderByDescending(note => Math.Abs(note.LevelDifference)).Take(12))
            Console.WriteLine($"    {note.Bank}:{note.Program} {note.Name} key {note.Key}: {note.LevelDifference:F1} dB at {note.Level:F0}");
        foreach (var note in notes.Where(n => n.Cents is not null).OrderByDescending(note => Math.Abs(note.Cents!.Value)).Take(6))
            Console.WriteLine($"    {note.Bank}:{note.Program} {note.Name} key {note.Key}: {note.Cents:F1} cents");
    }
}
