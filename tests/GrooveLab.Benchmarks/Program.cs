using GrooveLab.Benchmarks;
using GrooveLab.Commands;

return args switch
{
    ["synth", .. var rest] => SynthBenchmark.Run(rest),
    ["band", var presets] => BandBenchmark.Run(presets),
    ["speed", var runs, var banks, .. var programs] => SpeedBenchmark.Run(
        programs, banks.Split(','), int.Parse(runs, System.Globalization.CultureInfo.InvariantCulture)),
    ["check"] => CheckBenchmark.Run(),
    ["score"] => ScoreBenchmark.Run(),
    ["recast"] => RecastBenchmark.Run(),
    ["pack", var program, .. var charts] when charts.Length > 0 => PackBenchmark.Run(program, charts),
    [ScoreBenchmark.ChildCommand, var file] => ScoreBenchmark.Child(file),
    ["start", var program, var chart] => StartBenchmark.Run(program, chart),
    ["screen", .. var rest] => ScreenBenchmark.Run(rest),
    [ScreenFigures.Command, var chart, var seconds] => ScreenFigures.Run(chart, double.Parse(seconds, System.Globalization.CultureInfo.InvariantCulture)),
    [SynthChild.PlayCommand, var bank, var wet, var interpolation] => SynthChild.Play(bank, wet == "wet", interpolation, measureBlocks: false),
    [SynthChild.BlocksCommand, var bank, var wet, var interpolation, var parts, .. var file] => SynthChild.Play(
        bank, wet == "wet", interpolation, measureBlocks: true, parts, file.FirstOrDefault()),
    [SynthChild.QuickCommand, var bank, var wet, var interpolation] => SynthChild.Quick(bank, wet == "wet", interpolation),
    [SynthChild.StartCommand, var bank] => SynthChild.Start(bank),
    [SynthChild.SoakCommand, var bank] => SynthChild.Soak(bank),
    [SynthChild.EffectsCommand] => SynthChild.Effects(),
    _ => Usage(),
};

static int Usage()
{
    const string Start = "dotnet run -c Release --project tests/GrooveLab.Benchmarks -- ";
    Console.Error.WriteLine("usage: " + Start + "synth [--bank FILE] [--large FILE] [--runs N] [--program GROOVELAB_PROGRAM]");
    Console.Error.WriteLine("       " + Start + "band PRESETS_FOLDER");
    Console.Error.WriteLine("       " + Start + "check");
    Console.Error.WriteLine("       " + Start + "score");
    Console.Error.WriteLine("       " + Start + "recast");
    Console.Error.WriteLine("       " + Start + "pack GROOVELAB_PROGRAM CHART...");
    Console.Error.WriteLine("       " + Start + "speed RUNS BANK,BANK NAME=GROOVELAB_PROGRAM...");
    Console.Error.WriteLine("       " + Start + "start GROOVELAB_PROGRAM CHART");
    Console.Error.WriteLine("       " + Start + "screen CHART GROOVELAB_PROGRAM... [--starts N] [--seconds S]");
    return 2;
}
