using System.Globalization;
using GrooveLab.Files.Attack;

static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

return args switch
{
    ["save", var path, var data, var name, var bytes, var times, .. var how] =>
        Child.Save(path, data, name, Number(bytes), Number(times), how.Contains("anyway"), how.Contains("plain")),
    ["write", var path, .. var how] => Child.Write(path, how.Contains("plain")),
    ["once", var path, var bytes, .. var how] => Child.Once(path, Number(bytes), how.Contains("replace"), how.Contains("plain")),
    ["leave", var path] => Child.Leave(path),
    ["stream", var path, var text] => Child.Stream(path, text),
    ["begin", var path] => Child.Begin(path),
    [] => Attacks.All(1, string.Empty),
    ["--seed", var seed] => Attacks.All(Number(seed), string.Empty),
    ["--seed", var seed, "--only", var attack] => Attacks.All(Number(seed), attack),
    _ => Usage(),
};

static int Usage()
{
    Console.Error.WriteLine("usage: GrooveLab.Files.Attack [--seed N [--only ATTACK]]");
    return 2;
}
