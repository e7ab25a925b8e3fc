using GrooveLab.Benchmarks;

return args switch
{
    ["synth", .. var rest] => SynthBenchmark.Run(rest),
    [SynthChild.PlayCommand, var bank, var wet, var interpolation] => SynthChild.Play(bank, wet == "wet", interpolation),
    [SynthChild.StartCommand, var bank] => SynthChild.Start(bank),
    [SynthChild.SoakCommand, var bank] => SynthChild.Soak(bank),
    [SynthChild.EffectsCommand] => SynthChild.Effects(),
    _ => Usage(),
};

static int Usage()
{
    Console.Error.WriteLine("usage: dotnet run -c Release --project tests/GrooveLab.Benchmarks -- synth [--bank FILE] [--large FILE] [--runs N]");
    return 2;
}
