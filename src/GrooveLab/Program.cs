using GrooveLab.Commands;
using GrooveLab.Screen;

var words = CommandLine.WithCommand(args);
if (LiveProgram.IsAskedFor(words))
{
    LiveProgram.Prepare();
}

return CommandLine.Run(args, words);
