using System.Globalization;
using GrooveLab.SameMusic;
using GrooveLab.SameMusic.Live;

// compare   compares what two builds play: presets, random charts, live changes. 0 when all differences are allowed
// draw      plays a chart offline with random changes, and writes the changes and the audio hashes into a folder
// perform   repeats the changes of such a folder, and replays its log
// .ci/same-music builds both commits and runs all three.
const string Usage = """
    compare --base-tree DIR --base-program FILE --base-tool FILE --base-name TEXT --current-tree DIR --current-program FILE --current-tool FILE
            --current-name TEXT --work DIR --report FILE [--charts N] [--changes N] [--seed N] [--jobs N]
    draw    --chart FILE --out DIR [--changes N] [--seconds N] [--seed N]
    perform --chart FILE --from DIR --out DIR [--omit NUMBER]
    """;

var words = new Dictionary<string, string>(StringComparer.Ordinal);
for (var i = 1; i + 1 < args.Length; i += 2)
{
    words[args[i]] = args[i + 1];
}

string Text(string name) => words.TryGetValue(name, out var text) ? text : throw new ArgumentException($"{name} is missing");
int Number(string name, int otherwise) =>
    !words.TryGetValue(name, out var text) ? otherwise
    : int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var number) ? number
    : throw new ArgumentException($"{name} needs a whole number, not '{text}'");

Func<int> run;
try
{
    if (args.Length % 2 == 0)
    {
        throw new ArgumentException("an option has no value");
    }

    switch (args[0])
    {
        case "compare":
            run = new Comparison(new Settings
            {
                BaseTree = Text("--base-tree"),
                BaseProgram = Text("--base-program"),
                BaseTool = Text("--base-tool"),
                BaseName = Text("--base-name"),
                CurrentTree = Text("--current-tree"),
                CurrentProgram = Text("--current-program"),
                CurrentTool = Text("--current-tool"),
                CurrentName = Text("--current-name"),
                Work = Text("--work"),
                Report = Text("--report"),
                Charts = Number("--charts", 100),
                Changes = Number("--changes", 1000),
                Seed = Number("--seed", 1),
                Jobs = Number("--jobs", 2),
            }).Run;
            break;
        case "draw":
            run = LiveCommands.Draw(Text("--chart"), Number("--changes", 1000), Number("--seconds", 300), Number("--seed", 1), Text("--out"));
            break;
        case "perform":
            run = LiveCommands.Perform(Text("--chart"), Text("--from"), Text("--out"), words.ContainsKey("--omit") ? Number("--omit", 0) : null);
            break;
        default:
            throw new ArgumentException($"unknown command '{args[0]}'");
    }
}
catch (ArgumentException wrong)
{
    Console.Error.WriteLine($"{wrong.Message}\n{Usage}");
    return 2;
}

return run();
